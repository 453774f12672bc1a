"use strict";
(function () {
  // Everything here shows lines of the table that the page holds; nothing is worked out.
  var data = JSON.parse(document.getElementById("lineage-data").textContent);
  var STEP = 50;
  var byLife = {};
  data.lines.forEach(function (line) { if (line[0] !== "") byLife[line[0]] = line; });

  function linesOf(key) {
    if (key === "") return { lines: data.lines, all: data.lines.length };
    var of = data.of[key];
    if (of === "every") {
      var counted = data.lines.filter(function (x) { return x[data.use] === "counted"; });
      return { lines: counted, all: counted.length };
    }
    var found = of.map(function (i) { return byLife[i]; }).filter(Boolean);
    return { lines: found, all: of.length };
  }
  function element(name, text) {
    var e = document.createElement(name);
    if (text !== undefined) e.textContent = text;
    return e;
  }
  function fill(place) {
    var told = linesOf(place.dataset.of), shown = 0;
    place.dataset.filled = "yes";
    if (!told.lines.length && !told.all) { place.append(element("p", "No life.")); return; }
    var table = element("table"), head = element("thead"), row = element("tr"), body = element("tbody");
    data.heads.forEach(function (h) {
      var th = element("th", h);
      th.scope = "col";
      row.append(th);
    });
    head.append(row);
    table.append(head, body);
    var note = element("p"), more = element("button");
    more.type = "button";
    more.className = "plain";
    function show() {
      told.lines.slice(shown, shown + STEP).forEach(function (line) {
        var tr = element("tr");
        line.forEach(function (cell, i) {
          var td = element("td", cell === "" ? "" : String(cell));
          td.dataset.head = data.heads[i];
          tr.append(td);
        });
        body.append(tr);
      });
      shown = Math.min(shown + STEP, told.lines.length);
      var rest = told.all > told.lines.length ? " The others stand in " + data.file + "." : "";
      note.textContent = shown + " of " + told.all + " lines shown." + rest;
      more.hidden = shown >= told.lines.length;
      more.textContent = "Show " + Math.min(STEP, told.lines.length - shown) + " more";
    }
    more.addEventListener("click", show);
    place.append(table, note, more);
    show();
  }
  document.querySelectorAll("details.trace").forEach(function (part) {
    function fillAll() {
      if (!part.open) return;
      part.querySelectorAll(".rows").forEach(function (place) {
        if (!place.dataset.filled) fill(place);
      });
    }
    part.addEventListener("toggle", fillAll);
    fillAll();
  });
  function openTarget() {
    var target = location.hash ? document.getElementById(decodeURIComponent(location.hash.slice(1))) : null;
    if (!target || target.tagName !== "DETAILS") return;
    target.open = true;
    target.querySelector("summary").focus();
    target.scrollIntoView();
  }
  window.addEventListener("hashchange", openTarget);
  openTarget();
})();
