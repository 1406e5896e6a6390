// Only comfort: every page works without this file.
(() => {
  "use strict";
  const focusSummary = (root) => {
    const summary = root.querySelector("[data-error-summary]");
    if (summary) summary.focus();
  };
  const revealPrint = (root) => {
    root.querySelectorAll("[data-print]").forEach((button) => {
      button.hidden = false;
      button.addEventListener("click", () => window.print());
    });
  };
  focusSummary(document);
  revealPrint(document);
  document.addEventListener("htmx:afterSettle", (event) => {
    focusSummary(event.detail.elt);
    revealPrint(event.detail.elt);
  });
})();
