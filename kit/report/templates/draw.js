(function () {
  "use strict";
  function draw(figure) {
    var place = figure.querySelector(".drawing");
    var words = place.dataset.words || place.textContent;
    var spec = JSON.parse(figure.querySelector("script.spec").textContent);
    place.dataset.words = words;
    delete spec.$schema;
    delete spec.title;
    spec.width = Math.min(spec.width || 700, place.clientWidth);
    place.dataset.width = String(place.clientWidth);
    var options = { mode: "vega-lite", renderer: "svg", actions: false, ast: false };
    return vegaEmbed(place, spec, options).catch(function (error) {
      place.textContent = words;
      console.error(String(error));
    });
  }
  var figures = Array.prototype.slice.call(document.querySelectorAll("figure.chart"));
  Promise.all(figures.map(draw)).then(function () {
    document.documentElement.dataset.drawn = String(figures.length);
  });
  var timer = 0;
  window.addEventListener("resize", function () {
    clearTimeout(timer);
    timer = setTimeout(function () {
      figures.forEach(function (figure) {
        var place = figure.querySelector(".drawing");
        if (String(place.clientWidth) !== place.dataset.width) { draw(figure); }
      });
    }, 200);
  });
})();
