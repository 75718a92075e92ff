"use strict";
(function () {
  const find = (name) => document.getElementById("panel-" + name);
  const figures = JSON.parse(find("figures").textContent);
  const place = (name) => Number(find(name).value);
  const show = (name, text) => { find(name).textContent = text; };
  const showFigure = (name, figure) => {
    show(name, figure[0]);
    show(name + "-interval", figure[1]);
  };
  const chosen = (name, words) => {
    show(name + "-words", words);
    find(name).setAttribute("aria-valuetext", words);
  };

  function read() {
    const bank = place("bank"), target = place("target");
    let row = 0;
    if (find("blockage")) {
      const assumed = find("assumed").checked;
      find("blockage").disabled = assumed;
      row = assumed ? 0 : 1 + place("blockage");
      chosen("blockage", assumed ? "as assumed" : figures.blockages[place("blockage")]);
      showFigure("largest", figures.largest[bank][target]);
    }
    chosen("bank", figures.banks[bank]);
    chosen("target", figures.targets[target]);
    showFigure("above", figures.above[row][bank]);
    showFigure("level", figures.levels[row][target]);
  }

  for (const input of document.querySelectorAll("#panel input")) {
    input.addEventListener("input", read);
  }
  read();
  document.getElementById("panel").hidden = false;
})();
