"use strict";
(() => {
  const words = document.getElementById("statement-text");
  const button = document.getElementById("statement-copy");
  const said = document.getElementById("statement-copied");
  button.hidden = false;
  const select = () => {
    const range = document.createRange();
    range.selectNodeContents(words);
    const selection = window.getSelection();
    selection.removeAllRanges();
    selection.addRange(range);
  };
  button.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(words.textContent.trim());
      said.textContent = "Copied.";
    } catch {
      select();
      said.textContent = "Marked: copy it with the keyboard.";
    }
  });
})();
