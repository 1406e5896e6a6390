// Only comfort on the entry page: says when a save did not arrive, and marks fields that cannot be read.
(() => {
  "use strict";
  const say = (text) => {
    const line = document.querySelector("#saved p");
    if (line) line.textContent = text;
  };
  const words = document.querySelector("[data-not-saved]");
  const notSaved = () => {
    if (words) say(words.dataset.notSaved);
  };
  document.addEventListener("htmx:sendError", notSaved);
  document.addEventListener("htmx:responseError", notSaved);
  document.addEventListener("htmx:timeout", notSaved);
  const markFields = () => {
    document.querySelectorAll("[data-error-for]").forEach((slot) => {
      const input = document.getElementById(slot.dataset.errorFor);
      if (!input) return;
      if (slot.textContent.trim()) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    });
  };
  document.addEventListener("htmx:afterSettle", markFields);
  document.addEventListener("htmx:oobAfterSwap", markFields);
})();
