(function () {
  "use strict";
  var data = JSON.parse(document.getElementById("data").textContent);
  var at = function (id) { return document.getElementById(id); };
  var NBSP = "\u00a0", MINUS = "\u2212";
  var nothing = data.options[0], fuels = Object.keys(data.fuels);
  var scales = ["electricity", "bought"].concat(fuels.map(function (f) { return "fuel-" + f; }));
  var state;

  function start() {
    state = { option: data.start, hours: data.own_hour, sure: data.chance_frac, often: data.often.indexOf(1) };
    scales.forEach(function (name) { state[name] = 100; });
    var option = chosen();
    state.units = option.own[0];
    state.reserve = option.own[1];
  }

  // figures are printed as in the memo: money without cents from 100 up, shares never a false 0 or 100
  function signed(text, value) { return value < 0 && /[1-9]/.test(text) ? MINUS + text : text; }
  function grouped(value, digits) {
    // only what lies exactly between two figures goes to the even one; 5.55 lies below, as its digits tell
    var tie = /^5?0*$/.test(value.toFixed(Math.min(100, digits + 60)).split(".")[1].slice(digits));
    if (!tie) { value = Number(value.toFixed(digits)); }
    return value.toLocaleString("en-US", {
      minimumFractionDigits: digits, maximumFractionDigits: digits, roundingMode: "halfEven"
    });
  }
  function money(value) {
    var size = Math.abs(value), digits = size >= 100 || value === 0 ? 0 : 2;
    return signed(data.currency + grouped(size, digits), value);
  }
  function percent(frac, rounded) {
    var value = frac * 100;
    if (value > 1e-7 && value < 0.1) { return "<0.1%"; }
    if (value > 99.9 && value < 100 - 1e-7) { return ">99.9%"; }
    return rounded.replace(/\.0$/, "") + "%";
  }
  function share(frac) { return percent(frac, grouped(frac * 100, 1)); }
  // rounded down: what is printed is reached
  function chance(frac) { return percent(frac, (Math.floor(1000 * frac + 1e-6) / 10).toFixed(1)); }
  function plain(value) {
    var size = Math.abs(value), digits;
    if (size >= 99.95 || value === 0) { digits = 0; }
    else if (size >= 0.995) { digits = 1; }
    else if (size >= 0.0995) { digits = 2; }
    else if (size >= 0.000995) { return signed(String(Number(size.toPrecision(2))), value); }
    else { return value > 0 ? "<0.001" : MINUS + "0.001 to 0"; }
    var text = grouped(size, digits);
    return signed(digits === 1 ? text.replace(/\.0$/, "") : text, value);
  }
  function hours(value) {
    if (value !== 0 && Math.abs(value) < 0.0995) {
      var seconds = value * 3600;
      return Math.abs(seconds) >= 59.5 ? plain(seconds / 60) + NBSP + "min" : plain(seconds) + NBSP + "s";
    }
    return plain(value) + NBSP + "h";
  }

  function often(times) {
    return times === 1 ? "as on record" : times === 0.5 ? "half as often" : plain(times) + NBSP + "times as often";
  }

  function find(slug) { return data.options.filter(function (o) { return o.slug === slug; })[0]; }
  function chosen() { return find(state.option); }
  function point(option) {
    var own = option.slug === state.option ? [state.units, state.reserve] : option.own;
    return option.points[own[0] * Math.max(1, option.reserves.length) + own[1]];
  }
  function figures(option) {
    var p = point(option), m = p.often[state.often];
    var burnt = option.fuel && data.fuels[option.fuel] ? state["fuel-" + option.fuel] / 100 : 1;
    var electricity = state.electricity / 100, bought = state.bought / 100;
    var life = m.bill_usd * electricity + m.fuel_usd * burnt + m.bought_usd * bought + m.rest_usd;
    var chance = p.chance_frac[state.hours];
    return {
      chance: chance, life: life, year: life * data.recovery, dark: m.dark_h_per_year,
      upFront: m.up_front_usd + (bought - 1) * m.bought_now_usd, bill: m.bill_usd_per_year * electricity,
      meets: p.may_meet && chance >= state.sure, mayMeet: p.may_meet, feasible: p.feasible
    };
  }

  function named(option) {
    var told = [];
    if (option.slug === state.option && option.units.length && state.units !== option.own[0]) {
      told.push(option.units[state.units] === 1 ? "1 unit" : option.units[state.units] + " units");
    }
    if (option.slug === state.option && option.reserves.length && state.reserve !== option.own[1]) {
      told.push("reserve " + share(option.reserves[state.reserve]));
    }
    return option.name + (told.length ? " (" + told.join(", ") + ")" : "");
  }

  function say(id, text) { at(id).textContent = text; }
  function cell(row, kind, text, mark) {
    var made = document.createElement(kind);
    if (kind === "th") { made.scope = "row"; }
    if (mark) { made.className = mark; }
    made.textContent = text;
    row.appendChild(made);
    return made;
  }

  function draw() {
    var all = data.options.map(function (o) { return { option: o, f: figures(o) }; });
    var base = all[0].f.year, me = all.filter(function (x) { return x.option.slug === state.option; })[0];
    var h = hours(data.hours[state.hours]), extra = me.f.year - base;
    say("chance", chance(me.f.chance));
    at("mark").className = me.f.meets ? "yes" : "no";
    say("mark", me.f.meets ? "\u2714 does it" : me.f.chance >= state.sure && !me.f.mayMeet ? "\u2718 may not be counted on" : "\u2718 not enough");
    say("chance-words", "chance that " + named(me.option) + " keeps the " + data.loads + " on for " + h);
    say("up-front", money(me.f.upFront));
    say("bill", money(me.f.bill));
    say("extra", money(Math.abs(extra)) + (extra >= 0 ? " more" : " less"));
    say("dark", hours(me.f.dark) + " instead of " + hours(all[0].f.dark));
    var best = cheapest(all);
    say("cheapest", answer(best, base, h));
    say("head-chance", "Chance for " + h);
    say("all-words", "At the prices, hours and outages set above; units and reserve are moved for the option shown only.");
    rows(all, base);
    var care = me.option.cautions.concat(best ? best.option.cautions : []);
    care = care.filter(function (text, k) { return care.indexOf(text) === k; });
    at("cautions").replaceChildren.apply(at("cautions"), care.map(function (text) {
      var item = document.createElement("li");
      item.textContent = text;
      return item;
    }));
    curve(me, all);
    controls(me.option);
    document.documentElement.dataset.drawn = "1";
  }

  function cheapest(all) {
    return all.filter(function (x) {
      return x.f.meets && (data.budget_usd === null || x.f.upFront <= data.budget_usd);
    }).sort(function (a, b) { return a.f.life - b.f.life; })[0];
  }

  function answer(best, base, h) {
    var target = h + " with a chance of " + chance(state.sure);
    if (!best) {
      return "No option here keeps them on for " + target + (data.budget_usd === null ? "." : " within the budget.");
    }
    var extra = best.f.year - base;
    return "As set above, the cheapest that keeps them on for " + target + ": " + named(best.option) + ", " +
      money(Math.abs(extra)) + " a year " + (extra >= 0 ? "more" : "less") + " than doing nothing.";
  }

  function rows(all, base) {
    at("rows").replaceChildren.apply(at("rows"), all.map(function (x) {
      var row = document.createElement("tr");
      if (x.option.slug === state.option) { row.className = "chosen"; }
      cell(row, "th", x.option.letter + NBSP + " " + named(x.option));
      cell(row, "td", x.f.meets ? "yes" : "no", x.f.meets ? "" : "no");
      cell(row, "td", chance(x.f.chance));
      cell(row, "td", money(x.f.upFront));
      cell(row, "td", money(x.f.year - base));
      cell(row, "td", hours(x.f.dark), "last");
      return row;
    }));
  }

  function svg(name, attributes, text) {
    var made = document.createElementNS("http://www.w3.org/2000/svg", name);
    Object.keys(attributes).forEach(function (key) { made.setAttribute(key, attributes[key]); });
    if (text !== undefined) { made.textContent = text; }
    return made;
  }

  function curve(me, all) {
    var place = at("curve"), wide = place.clientWidth || 600, high = place.clientHeight || 230;
    var left = 44, right = 14, top = 24, bottom = 40, last = data.hours[data.hours.length - 1];
    var x = function (hour) { return left + (wide - left - right) * hour / last; };
    var y = function (frac) { return high - bottom - (high - top - bottom) * frac; };
    var made = [];
    place.setAttribute("viewBox", "0 0 " + wide + " " + high);
    [0, 0.5, 1].forEach(function (frac) {
      made.push(svg("line", { x1: left, x2: wide - right, y1: y(frac), y2: y(frac), "class": "rule" }));
      made.push(svg("text", { x: left - 6, y: y(frac) + 4, "text-anchor": "end" }, share(frac)));
    });
    for (var hour = 0; hour <= last; hour += wide < 420 ? 48 : 24) {
      made.push(svg("text", { x: x(hour), y: high - bottom + 18, "text-anchor": "middle" }, String(hour)));
    }
    made.push(svg("text", { x: (left + wide - right) / 2, y: high - 4, "text-anchor": "middle" }, "Hours into the outage (h)"));
    all.forEach(function (other) {
      if (other !== me && other.option !== nothing) {
        made.push(svg("polyline", { points: line(point(other.option), x, y), "class": "other" }));
      }
    });
    var p = point(me.option), asked = data.hours[state.hours], late = asked > last * 0.55;
    made.push(svg("line", { x1: x(asked), x2: x(asked), y1: y(0), y2: 18, "class": "asked" }));
    made.push(svg("line", { x1: left, x2: wide - right, y1: y(state.sure), y2: y(state.sure), "class": "asked" }));
    made.push(svg("polyline", { points: line(p, x, y), "class": "chosen" }));
    data.hours.forEach(function (hour, i) { made.push(svg("circle", { cx: x(hour), cy: y(p.chance_frac[i]), r: 2.5 })); });
    made.push(svg("text", {
      x: x(asked) + (late ? 4 : -4), y: 14, "text-anchor": late ? "end" : "start", "class": "asked-words"
    }, "wanted: " + hours(asked) + " at " + chance(state.sure)));
    place.replaceChildren.apply(place, made);
    say("curve-words", "Chance to stay on, by hours into the outage: " + named(me.option) + " (thick line, " +
      chance(p.chance_frac[state.hours]) + " at " + hours(asked) + ") among the other options.");
  }

  function line(p, x, y) {
    return data.hours.map(function (hour, i) { return x(hour).toFixed(1) + "," + y(p.chance_frac[i]).toFixed(1); }).join(" ");
  }

  function range(id, low, high, step, value, words) {
    var input = at(id);
    if (!input) { return; }
    input.min = low; input.max = high; input.step = step; input.value = value;
    input.setAttribute("aria-valuetext", words);
    say("out-" + id, words);
  }

  function controls(option) {
    at("option").value = state.option;
    range("hours", 0, data.hours.length - 1, 1, state.hours, hours(data.hours[state.hours]));
    var sure = Math.round(state.sure * 1000) / 10, own = Math.round(data.chance_frac * 1000) / 10;
    range("sure", Math.min(50, own), Math.max(99, own),
      Number.isInteger(own) ? 1 : 0.1, sure, chance(state.sure));
    range("often", 0, data.often.length - 1, 1, state.often, often(data.often[state.often]));
    at("control-units").hidden = option.units.length < 2;
    at("control-reserve").hidden = option.reserves.length < 2;
    at("held").hidden = !option.held;
    range("units", 0, Math.max(0, option.units.length - 1), 1, state.units, plain(option.units[state.units] || 0));
    range("reserve", 0, Math.max(0, option.reserves.length - 1), 1, state.reserve, share(option.reserves[state.reserve] || 0));
    fuels.forEach(function (fuel) {
      var f = data.fuels[fuel], now = f.price * state["fuel-" + fuel] / 100;
      at("control-fuel-" + fuel).hidden = option.fuel !== fuel;
      range("fuel-" + fuel, 50, 250, 5, state["fuel-" + fuel], money(now) + " a " + f.unit);
    });
    range("electricity", 50, 200, 5, state.electricity, state.electricity + "% of today\u2019s");
    range("bought", 50, 150, 5, state.bought, state.bought + "% of the study\u2019s");
  }

  function listen() {
    data.options.slice(1).forEach(function (option) {
      var choice = document.createElement("option");
      choice.value = option.slug;
      choice.textContent = option.letter + NBSP + " " + option.name;
      at("option").appendChild(choice);
    });
    at("option").addEventListener("change", function () {
      state.option = at("option").value;
      state.units = chosen().own[0];
      state.reserve = chosen().own[1];
      draw();
    });
    ["hours", "often", "units", "reserve"].concat(scales).forEach(function (id) {
      if (at(id)) { at(id).addEventListener("input", function () { state[id] = Number(at(id).value); draw(); }); }
    });
    at("sure").addEventListener("input", function () {
      state.sure = Math.round(Number(at("sure").value) * 10) / 1000;
      draw();
    });
    at("reset").addEventListener("click", function () { start(); draw(); at("option").focus(); });
    window.addEventListener("resize", draw);
  }

  start();
  at("live").hidden = false;
  listen();
  draw();
})();
