"use strict";
(() => {
  const figures = JSON.parse(document.getElementById("travel-figures").textContent);
  const slider = document.getElementById("travel-time");
  const show = (id, [value, interval]) => {
    document.getElementById(id).textContent = value;
    const note = document.getElementById(`${id}-interval`);
    if (note) note.textContent = interval;
  };
  const look = () => {
    const at = Number(slider.value);
    show("travel-time-words", figures.words[at]);
    show("travel-in-time", figures.in_time[at]);
    show("travel-over", figures.over[at]);
    slider.setAttribute("aria-valuetext", figures.words[at][0]);
  };
  slider.addEventListener("input", look);
  look();
  document.getElementById("travel").hidden = false;
})();
