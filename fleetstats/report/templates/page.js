"use strict";
(function () {
  // Everything here looks up, interpolates, sorts or shows what the report already holds.
  var data = JSON.parse(document.getElementById("page-data").textContent);

  function digits(x, n) {
    if (x === 0) return "0";
    var mag = Math.floor(Math.log10(Math.abs(x)));
    if (mag >= 6 || mag < -4) return x.toExponential(n - 1);
    return x.toLocaleString("en-GB", { minimumFractionDigits: Math.max(0, n - 1 - mag), maximumFractionDigits: Math.max(0, n - 1 - mag) });
  }
  function side(x, limit) {
    var near = 1e-7 * Math.max(Math.abs(x), Math.abs(limit)); // the grid holds seven digits
    return Math.abs(x - limit) <= near ? 0 : x < limit ? -1 : 1;
  }
  function percent(p, n, careful, beside) {
    // A bound is rounded to its careful side, so that it stays a bound; and it has as many digits
    // as show on which side of a limit it lies.
    var x = parseFloat((100 * p).toPrecision(10));
    if (x <= 0) return "0\u00a0%";
    if (x >= 100) return "100\u00a0%";
    var limits = (beside || []).map(function (v) { return parseFloat((100 * v).toPrecision(10)); });
    var same = limits.filter(function (v) { return side(x, v) === 0; });
    if (same.length) return parseFloat(same[0].toPrecision(8)) + "\u00a0%";
    if (!careful && Math.abs(x - Math.round(x)) < 1e-9) return Math.round(x) + "\u00a0%";
    var lead = Math.min(x, 100 - x);
    var d = Math.min(6, Math.max(0, n - 1 - Math.floor(Math.log10(lead)))), y;
    for (; d <= 10; d += 1) {
      var k = Math.pow(10, d);
      y = careful < 0 ? Math.floor(x * k + 1e-9) / k : careful > 0 ? Math.min(100, Math.ceil(x * k - 1e-9) / k) : parseFloat(x.toFixed(d));
      if (limits.every(function (v) { return side(y, v) === side(x, v); })) break;
    }
    return y.toFixed(Math.min(d, 10)) + "\u00a0%";
  }
  function hours(x) {
    return (Math.abs(x) < 10 ? digits(x, 2) : Math.round(x).toLocaleString("en-GB")) + "\u00a0h";
  }
  function show(x, kind) {
    if (x === null || x === undefined) return "–";
    if (kind === "percent" || kind === "probability") return percent(x, 2);
    if (kind === "hours" || kind === "h") return hours(x);
    if (kind === "count") return Math.round(x).toLocaleString("en-GB");
    return digits(x, 3);
  }
  function element(name, text, cls) {
    var e = document.createElement(name);
    if (text !== undefined) e.textContent = text;
    if (cls) e.className = cls;
    return e;
  }

  // Tables: sort by a column's head, filter by words.
  document.querySelectorAll("table[data-live]").forEach(function (table, index) {
    var body = table.tBodies[0];
    var rows = Array.prototype.slice.call(body.rows);
    var heads = table.tHead.rows[0].cells;
    var said = element("p", "", "unseen");
    said.setAttribute("aria-live", "polite");
    Array.prototype.forEach.call(heads, function (head, column) {
      if (!head.textContent.trim()) return;
      var button = element("button", head.textContent);
      button.type = "button";
      head.textContent = "";
      head.appendChild(button);
      button.addEventListener("click", function () {
        var up = head.getAttribute("aria-sort") !== "ascending";
        Array.prototype.forEach.call(heads, function (h) { h.removeAttribute("aria-sort"); });
        head.setAttribute("aria-sort", up ? "ascending" : "descending");
        var sorted = rows.slice().sort(function (a, b) {
          var x = a.cells[column], y = b.cells[column];
          var u = x.dataset.v, v = y.dataset.v, c;
          if (u !== undefined && v !== undefined) {
            if (u === "" || v === "") return (u === "") - (v === "");
            c = parseFloat(u) - parseFloat(v);
          } else c = x.textContent.localeCompare(y.textContent, "en", { numeric: true });
          return up ? c : -c;
        });
        sorted.forEach(function (r) { body.appendChild(r); });
        said.textContent = "Sorted by " + button.textContent + (up ? ", rising." : ", falling.");
      });
    });
    if (rows.length > 7) {
      var box = element("p", undefined, "filter");
      var label = element("label", "Filter rows");
      var input = element("input");
      var count = element("span", rows.length + " rows", "hint");
      input.type = "search";
      input.id = "filter-" + index;
      label.htmlFor = input.id;
      box.append(label, input, count);
      table.closest(".scroll").before(box);
      input.addEventListener("input", function () {
        var words = input.value.toLowerCase().split(/\s+/).filter(Boolean), n = 0;
        rows.forEach(function (r) {
          var text = r.textContent.toLowerCase();
          r.hidden = !words.every(function (w) { return text.indexOf(w) >= 0; });
          n += r.hidden ? 0 : 1;
        });
        count.textContent = n === rows.length ? n + " rows" : n + " of " + rows.length + " rows";
        said.textContent = count.textContent + " shown.";
      });
    }
    table.closest(".scroll").after(said);
  });

  // Figures: values under the pointer or the arrow keys.
  function place(value, scale) {
    return scale === "log" ? Math.log10(value) : value;
  }
  function unplace(at, scale) {
    return scale === "log" ? Math.pow(10, at) : at;
  }
  function between(xs, ys, x, step) {
    var i, n = xs.length;
    if (!n || x < xs[0] - 1e-9 || x > xs[n - 1] + 1e-9) return null;
    for (i = n - 1; i > 0 && xs[i] > x; i--);
    if (ys[i] === null) return null;
    if (step || i === n - 1 || xs[i] === x) return ys[i];
    if (ys[i + 1] === null) return null;
    return ys[i] + (ys[i + 1] - ys[i]) * (x - xs[i]) / (xs[i + 1] - xs[i]);
  }
  function lines(panel, x, reach) {
    var out = [];
    panel.layers.forEach(function (layer) {
      var name = layer.label || "value";
      var far = layer.far !== null && x > layer.far;
      if (layer.kind === "line" || layer.kind === "step") {
        var y = between(layer.x, layer.y, x, layer.kind === "step");
        if (y !== null) out.push([name + ": " + show(y, panel.yunit), far]);
      } else if (layer.kind === "ribbon") {
        var a = between(layer.x, layer.low, x), b = between(layer.x, layer.high, x);
        if (a !== null || b !== null) out.push([name + ": " + (a === null ? "no lower limit" : show(a, panel.yunit)) + " to " + (b === null ? "no upper limit" : show(b, panel.yunit)), far]);
      } else if (layer.kind === "points") {
        var best = -1;
        layer.x.forEach(function (p, i) {
          if (Math.abs(place(p, panel.xscale) - place(x, panel.xscale)) <= reach && (best < 0 || Math.abs(p - x) < Math.abs(layer.x[best] - x))) best = i;
        });
        if (best >= 0) out.push([name + (layer.names[best] ? " " + layer.names[best] : "") + " at " + show(layer.x[best], panel.xunit) + ": " + show(layer.y[best], panel.yunit), false]);
      } else if (layer.kind === "bars") {
        layer.x.forEach(function (p, i) {
          if (x >= p && x < layer.x2[i]) out.push([name + ", " + show(p, panel.xunit) + " to " + show(layer.x2[i], panel.xunit) + ": " + show(layer.high[i], panel.yunit), far]);
        });
      }
    });
    return out;
  }
  function spans(panel, row) {
    var out = [];
    panel.layers.forEach(function (layer) {
      if (layer.kind !== "spans") return;
      layer.y.forEach(function (y, i) {
        if (Math.abs(y - row) < 0.5) out.push([(layer.names[i] ? layer.names[i] + ": " : "") + show(layer.x[i], panel.xunit) + " to " + show(layer.x2[i], panel.xunit) + (layer.label ? ", " + layer.label : ""), false]);
      });
    });
    return out;
  }
  document.querySelectorAll(".plot[data-figure][tabindex]").forEach(function (plot) {
    var figure = data.figures[plot.dataset.figure];
    if (!figure) return;
    var cursor = element("div", undefined, "cursor"), box = element("div", undefined, "readout");
    var said = element("p", "", "unseen");
    said.setAttribute("aria-live", "polite");
    cursor.hidden = box.hidden = true;
    plot.append(cursor, box, said);
    var state = { panel: 0, x: null, row: null };
    function face() {
      var narrow = getComputedStyle(plot.querySelector(".wide")).display === "none";
      var svg = plot.querySelector((narrow ? ".narrow" : ".wide") + " svg");
      return { frames: narrow ? figure.narrow : figure.wide, svg: svg };
    }
    function draw(speak) {
      var f = face(), frame = f.frames[state.panel], panel = figure.panels[state.panel];
      var outer = plot.getBoundingClientRect(), inner = f.svg.getBoundingClientRect();
      var k = inner.width / f.svg.viewBox.baseVal.width;
      var found = panel.rows ? spans(panel, state.row) : lines(panel, state.x, 0.02 * (frame.hi - frame.lo));
      box.textContent = "";
      if (!panel.rows) box.appendChild(element("b", show(state.x, panel.xunit)));
      found.forEach(function (line) {
        var p = element("div", line[0]);
        if (line[1]) p.appendChild(element("span", " (extrapolated)", "far"));
        box.appendChild(p);
      });
      if (panel.rows && !found.length) { hide(); return; }
      var at = panel.rows ? frame.l + 0.5 * frame.w : frame.l + frame.w * (place(state.x, panel.xscale) - frame.lo) / (frame.hi - frame.lo);
      cursor.hidden = !!panel.rows;
      box.hidden = false;
      var left = inner.left - outer.left + k * at, top = inner.top - outer.top + k * frame.t;
      cursor.style.left = left + "px";
      cursor.style.top = top + "px";
      cursor.style.height = k * frame.h + "px";
      var side = left > 0.55 * outer.width ? left - box.offsetWidth - 10 : left + 10;
      box.style.left = Math.max(4, Math.min(side, outer.width - box.offsetWidth - 4)) + "px";
      var down = panel.rows ? k * frame.h * (frame.down ? (state.row - frame.ylo) : (frame.yhi - state.row)) / (frame.yhi - frame.ylo) + 12 : 6;
      box.style.top = top + down + "px";
      if (speak) said.textContent = box.textContent.replace(/([a-z%])(?=[A-Z])/g, "$1; ");
    }
    function hide() { cursor.hidden = box.hidden = true; }
    plot.addEventListener("pointermove", function (e) {
      var f = face(), inner = f.svg.getBoundingClientRect();
      var k = inner.width / f.svg.viewBox.baseVal.width;
      var px = (e.clientX - inner.left) / k, py = (e.clientY - inner.top) / k;
      var i = f.frames.findIndex(function (q) { return px >= q.l && px <= q.l + q.w && py >= q.t - 12 && py <= q.t + q.h + 12; });
      if (i < 0) { hide(); return; }
      var q = f.frames[i], panel = figure.panels[i];
      state.panel = i;
      state.x = unplace(q.lo + (q.hi - q.lo) * (px - q.l) / q.w, panel.xscale);
      var share = (py - q.t) / q.h;
      state.row = Math.round(q.down ? q.ylo + share * (q.yhi - q.ylo) : q.yhi - share * (q.yhi - q.ylo));
      draw(false);
    });
    plot.addEventListener("pointerleave", hide);
    plot.addEventListener("blur", hide);
    plot.addEventListener("keydown", function (e) {
      var f = face(), q = f.frames[state.panel], panel = figure.panels[state.panel];
      var moves = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: 1, ArrowDown: -1 };
      if (e.key === "Escape") { hide(); return; }
      if (e.key === "PageDown" || e.key === "PageUp") {
        state.panel = (state.panel + (e.key === "PageDown" ? 1 : f.frames.length - 1)) % f.frames.length;
        state.x = state.row = null;
        q = f.frames[state.panel]; panel = figure.panels[state.panel];
      } else if (!(e.key in moves)) return;
      e.preventDefault();
      var step = moves[e.key] || 0;
      if (panel.rows) {
        state.row = state.row === null ? Math.ceil(q.ylo) : Math.min(Math.floor(q.yhi), Math.max(Math.ceil(q.ylo), state.row + step * (q.down ? -1 : 1)));
      } else {
        var at = state.x === null ? 0.5 * (q.lo + q.hi) : place(state.x, panel.xscale) + step * (q.hi - q.lo) * (e.shiftKey ? 0.1 : 0.02);
        state.x = unplace(Math.min(q.hi, Math.max(q.lo, at)), panel.xscale);
      }
      draw(true);
    });
  });

  // Knobs: answers from the tables that came with the page.
  var tab = data.tabulated;
  if (tab) {
    var form = document.querySelector(".knobs"), now = {}, inputs = {};
    var byKey = {};
    tab.knobs.forEach(function (k) { byKey[k.key] = k; now[k.key] = k.start; });
    location.hash.replace(/^#/, "").split("&").forEach(function (pair) {
      var p = pair.split("="), x = parseFloat(p[1]);
      if (Object.prototype.hasOwnProperty.call(byKey, p[0]) && isFinite(x)) {
        var v = byKey[p[0]].values;
        x = Math.min(v[v.length - 1], Math.max(v[0], x));
        now[p[0]] = byKey[p[0]].free ? x : v[nearest(v, x)];
      }
    });
    function nearest(values, x) {
      var best = 0;
      values.forEach(function (v, i) { if (Math.abs(v - x) < Math.abs(values[best] - x)) best = i; });
      return best;
    }
    function corners(reading) {
      var sides = reading.axes.map(function (a) {
        var k = byKey[a], v = k.values, x = now[a], j = 0;
        while (j < v.length - 1 && v[j + 1] <= x) j++;
        if (!k.free || j === v.length - 1 || x === v[j]) return [[nearest(v, x), 1]];
        var w = (x - v[j]) / (v[j + 1] - v[j]);
        return [[j, 1 - w], [j + 1, w]];
      });
      var out = [[0, 1]];
      sides.forEach(function (side, i) {
        var size = byKey[reading.axes[i]].values.length, next = [];
        out.forEach(function (o) { side.forEach(function (s) { next.push([o[0] * size + s[0], o[1] * s[1]]); }); });
        out = next;
      });
      return out;
    }
    function read(reading) {
      var c = corners(reading), total = 0, worst = 0;
      var far = !!reading.beyond && c.some(function (p) { return reading.beyond[p[0]]; });
      for (var i = 0; i < c.length; i++) {
        var v = reading.values[c[i][0]];
        if (v === null) return { text: reading.none, far: far };
        total += v * c[i][1];
        worst = Math.max(worst, v);
      }
      if (reading.part === "word") return { text: reading.words[worst], far: far };
      if (reading.round_to > 0) {
        var q = total / reading.round_to;
        total = reading.round_to * (reading.part === "low" ? Math.floor(q + 1e-9) : Math.round(q));
      }
      if (reading.kind === "percent") {
        return { text: percent(total, 2, { low: -1, high: 1 }[reading.part] || 0, reading.beside), far: far };
      }
      return { text: show(total, reading.kind), far: far };
    }
    var order = [];
    tab.readings.forEach(function (r) { if (order.indexOf(r.row) < 0) order.push(r.row); });
    var body = document.getElementById("readings").tBodies[0], start = null;
    function answer(speak) {
      var old = {}, said = [];
      Array.prototype.forEach.call(body.rows, function (r) { old[r.cells[0].textContent] = r.textContent; });
      if (start === null) start = old;
      body.textContent = "";
      order.forEach(function (title) {
        var parts = {};
        tab.readings.forEach(function (r) { if (r.row === title) parts[r.part] = read(r); });
        var row = element("tr"), head = element("th", title);
        head.scope = "row";
        row.appendChild(head);
        (parts.word ? ["word"] : ["low", "estimate", "high"]).forEach(function (p) {
          var cell = element("td", parts[p] ? parts[p].text : "–", p === "word" ? "" : "num");
          if (p === "word") cell.colSpan = 3;
          if (parts[p] && parts[p].far) cell.appendChild(element("span", " (extrapolated)", "hint"));
          row.appendChild(cell);
        });
        body.appendChild(row);
        if (start[title] !== undefined && start[title] !== row.textContent) row.classList.add("moved");
        if (old[title] !== row.textContent) said.push(title + ": " + Array.prototype.map.call(row.cells, function (c, i) { return i ? c.textContent : ""; }).filter(Boolean).join(", "));
      });
      if (speak) document.getElementById("readings-say").textContent = said.join(". ");
    }
    tab.knobs.forEach(function (k) {
      var box = element("div", undefined, "knob"), label = element("label", k.label);
      var set = element("div", undefined, "set"), range = element("input"), out = element("output");
      range.type = "range";
      range.id = "knob-" + k.key;
      label.htmlFor = range.id;
      if (k.free) {
        range.min = k.values[0];
        range.max = k.values[k.values.length - 1];
        range.step = k.kind === "hours" ? 10 : (range.max - range.min) / 200;
      } else {
        range.min = 0;
        range.max = k.values.length - 1;
        range.step = 1;
      }
      function said(x) {
        return k.kind === "number" ? parseFloat(x.toPrecision(6)).toLocaleString("en-GB") : show(x, k.kind);
      }
      function sync() {
        range.value = k.free ? now[k.key] : nearest(k.values, now[k.key]);
        out.textContent = said(now[k.key]);
        range.setAttribute("aria-valuetext", out.textContent);
      }
      range.addEventListener("input", function () {
        now[k.key] = k.free ? parseFloat(range.value) : k.values[parseInt(range.value, 10)];
        out.textContent = said(now[k.key]);
        range.setAttribute("aria-valuetext", out.textContent);
        answer(true);
      });
      inputs[k.key] = sync;
      set.append(range, out);
      box.append(label, set, element("small", (k.help ? k.help + " " : "") + "Study: " + said(k.start) + "."));
      form.appendChild(box);
      sync();
    });
    form.addEventListener("submit", function (e) { e.preventDefault(); });
    document.getElementById("knobs-reset").addEventListener("click", function () {
      tab.knobs.forEach(function (k) { now[k.key] = k.start; inputs[k.key](); });
      answer(true);
    });
    answer(false);
  }

  // What a link leads to is opened on the way.
  function openTo(id) {
    var target = id && document.getElementById(id), shut = false;
    for (var e = target; e; e = e.parentElement) {
      if (e.tagName === "DETAILS" && !e.open) { e.open = true; shut = true; }
    }
    if (shut) target.scrollIntoView();
  }
  document.addEventListener("click", function (e) {
    var link = e.target.closest && e.target.closest("a[href^='#']");
    if (link) openTo(link.getAttribute("href").slice(1));
  });
  window.addEventListener("hashchange", function () { openTo(location.hash.slice(1)); });
  openTo(location.hash.slice(1));

  // Nothing stays folded on paper.
  window.addEventListener("beforeprint", function () {
    document.querySelectorAll("details").forEach(function (d) { d.open = true; });
  });
  document.documentElement.dataset.ready = "yes";
})();
