(function () {
  "use strict";
  // A legend's columns by the room there is: known before drawing, so that its height is reserved.
  function chosen(rule, width) {
    var step = /^width > (\d+) \? (\d+) : (.+)$/.exec(rule);
    if (!step) { return Number(rule); }
    return width > Number(step[1]) ? Number(step[2]) : chosen(step[3], width);
  }
  function lay(node, width) {
    if (node === null || typeof node !== "object") { return; }
    var count = node.columns && node.columns.expr ? chosen(node.columns.expr, width) : 0;
    if (count) { node.columns = count; }
    Object.keys(node).forEach(function (key) { if (key !== "datasets") { lay(node[key], width); } });
  }
  function draw(figure) {
    var place = figure.querySelector(".drawing");
    var words = place.dataset.words || place.textContent;
    var spec = JSON.parse(figure.querySelector("script.spec").textContent);
    place.dataset.words = words;
    delete spec.$schema;
    delete spec.title;
    var room = place.clientWidth || Math.min(864, document.querySelector("main").clientWidth - 64);
    spec.width = Math.min(spec.width || 700, room);
    if (spec.width < 480 && spec.padding && spec.padding.right > 66) { spec.padding.right = 12; } // letters are off
    lay(spec, spec.width - 60);
    place.dataset.width = String(place.clientWidth);
    var options = { mode: "vega-lite", renderer: "svg", actions: false, ast: false };
    return vegaEmbed(place, spec, options).catch(function (error) {
      place.textContent = words;
      console.error(String(error));
    });
  }
  function folded(figure) { return figure.closest("details:not([open])") !== null; }
  function wait(figure) {
    var fold = figure.closest("details");
    fold.addEventListener("toggle", function () { draw(figure); }, { once: true });
  }
  function unfold() {
    Array.prototype.forEach.call(document.querySelectorAll("section.appendix details"), function (fold) {
      fold.open = true;
    });
  }
  function reveal() {
    var part = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    var fold = part && part.querySelector("details");
    if (fold) { fold.open = true; part.scrollIntoView(); }
  }
  window.addEventListener("beforeprint", unfold);
  window.addEventListener("hashchange", reveal);
  var figures = Array.prototype.slice.call(document.querySelectorAll("figure.chart"));
  figures.filter(folded).forEach(wait);
  Promise.all(figures.map(draw)).then(function () {
    reveal();
    document.documentElement.dataset.drawn = String(figures.length);
  });
  var timer = 0;
  window.addEventListener("resize", function () {
    clearTimeout(timer);
    timer = setTimeout(function () {
      figures.forEach(function (figure) {
        var place = figure.querySelector(".drawing");
        if (!folded(figure) && String(place.clientWidth) !== place.dataset.width) { draw(figure); }
      });
    }, 200);
  });
})();
