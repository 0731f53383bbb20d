// Names, for readers of screens, of what the widgets leave without one: handles of sliders, menus of charts.
(function () {
  "use strict";
  var area = element.closest(".jp-OutputArea") || document.body;
  function named(part, words) {
    if (words && part.getAttribute("aria-label") !== words) { part.setAttribute("aria-label", words); }
  }
  function all() {
    area.querySelectorAll(".noUi-handle").forEach(function (handle) {
      var line = handle.closest(".widget-slider"), label = line && line.querySelector(".widget-label");
      named(handle, label && label.textContent);
    });
    area.querySelectorAll(".vega-embed summary").forEach(function (menu) { named(menu, "Menu of the chart"); });
  }
  new MutationObserver(all).observe(area, { childList: true, subtree: true });
  all();
})();
