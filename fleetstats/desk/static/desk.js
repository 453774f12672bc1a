// The desk's own script. Without it every form still works, by loading whole pages.
"use strict";
(function () {
  var body = document.body, trying = 0, timer = null;

  function sign(what) {
    try { navigator.sendBeacon("/sign/" + what); } catch (e) { /* an old browser: the desk waits longer */ }
  }
  setInterval(function () { sign("here"); }, 15000);
  window.addEventListener("pagehide", function () { sign("leave"); });
  window.addEventListener("pageshow", function () { sign("here"); });

  function open_details() {
    return Array.from(document.querySelectorAll("details[id][open]")).map(function (d) { return d.id; });
  }

  // Put a page that came back in place of the one shown; where the reader was is kept.
  function take_in(text, address, focus, parts) {
    var page = new DOMParser().parseFromString(text, "text/html");
    var fresh = page.getElementById("swap"), old = document.getElementById("swap");
    if (!fresh) { document.open(); document.write(text); document.close(); return; }
    if (parts) { // a slider that is held must not be taken away: only the rest changes
      old.querySelectorAll("[data-part]").forEach(function (part) {
        var now = fresh.querySelector("#" + part.id);
        if (now) part.replaceWith(now);
      });
      old.removeAttribute("aria-busy");
      if (address) history.replaceState(null, "", address);
      return;
    }
    var held = focus && document.activeElement && document.activeElement.id;
    var opened = open_details();
    old.replaceWith(fresh);
    opened.forEach(function (id) { var d = document.getElementById(id); if (d) d.open = true; });
    document.title = page.title;
    var way = page.querySelector(".ways"), old_way = document.querySelector(".ways");
    if (way && old_way) old_way.replaceWith(way);
    if (address) history.replaceState(null, "", address);
    var at = held && document.getElementById(held);
    if (at) at.focus({preventScroll: true});
    var said = document.querySelector("#said p"), line = said && said.textContent;
    if (said) { // a status that is filled after it is there is read aloud
      said.textContent = "";
      setTimeout(function () { said.textContent = line; }, 60);
    }
    ready();
  }

  function fetch_in(address, options, focus, parts) {
    var mine = ++trying, swap = document.getElementById("swap");
    swap.setAttribute("aria-busy", "true");
    return fetch(address, Object.assign({credentials: "same-origin"}, options)).then(function (r) {
      return r.text().then(function (text) {
        if (mine === trying) take_in(text, r.url.replace(location.origin, ""), focus, parts);
      });
    }).catch(function () { swap.removeAttribute("aria-busy"); });
  }

  function try_out(form, parts) {
    var asked = new URLSearchParams(new FormData(form)).toString();
    fetch_in(form.getAttribute("action").split("#")[0] + "?" + asked, {}, true, parts);
  }

  // Which of the open things a form belongs to; several forms of one thing share its place.
  function place_of(form) {
    var item = form.closest("li"), first = item ? item.querySelector("[data-ask]") : form;
    return Array.from(document.querySelectorAll("[data-ask]")).indexOf(first);
  }

  function next_asked(place) {
    var forms = document.querySelectorAll("[data-ask]");
    if (!forms.length) return null;
    var form = forms[Math.min(place, forms.length - 1)], shut = null;
    for (var d = form.closest("details"); d; d = d.parentElement.closest("details")) if (!d.open) shut = d;
    return shut ? shut.querySelector("summary") : form.querySelector("button, input:not([type=hidden])");
  }

  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (form.hasAttribute("data-whole")) return;
    event.preventDefault();
    if (form.method === "get") { try_out(form); return; }
    var button = event.submitter, asked = form.hasAttribute("data-ask"), place = asked ? place_of(form) : 0;
    if (button && !button.id) button.id = "pressed";
    if (asked && document.activeElement && document.activeElement.blur) document.activeElement.blur();
    var data = new FormData(form);
    if (button && button.name) data.append(button.name, button.value); // a button may be the answer
    var files = form.enctype === "multipart/form-data";
    var to = (button && button.getAttribute("formaction")) || form.getAttribute("action");
    fetch_in(to, {
      method: "POST", body: files ? data : new URLSearchParams(data)
    }, true).then(function () {
      if (document.activeElement !== document.body) return;
      // an open question is gone once it is answered: the next one takes its place
      var next = asked && (next_asked(place) || document.getElementById("open"));
      if (next) { next.focus(); return; }
      var room = document.getElementById("room");
      if (room) room.focus({preventScroll: true});
    });
  });

  // A field was moved: its twin follows, and a form that answers by itself is asked.
  function moved(at) {
    if (at.dataset && at.dataset.for) document.getElementById(at.dataset.for).value = at.value;
    var slide = at.id && document.querySelector('[data-for="' + at.id + '"]');
    if (slide) slide.value = at.value;
    var form = at.closest && at.closest("form[data-live]");
    if (!form) return;
    clearTimeout(timer);
    timer = setTimeout(function () { try_out(form, true); }, 250);
  }
  document.addEventListener("input", function (event) { moved(event.target); });

  // What a field shows when it comes: a slider puts a value that is none of its steps to the next.
  function as_it_came(field) {
    var page = new DOMParser().parseFromString(field.outerHTML, "text/html");
    return page.body.firstChild.value;
  }

  // A field that was moved before this script had come is taken as moved now.
  function take_up_moved() {
    document.querySelectorAll("form[data-live] input:not([type=hidden])").forEach(function (field) {
      if (field.value !== as_it_came(field)) moved(field);
    });
  }

  function drop_on(form) {
    ["dragenter", "dragover"].forEach(function (name) {
      form.addEventListener(name, function (e) { e.preventDefault(); form.classList.add("over"); });
    });
    form.addEventListener("dragleave", function () { form.classList.remove("over"); });
    form.addEventListener("drop", function (e) {
      e.preventDefault();
      form.classList.remove("over");
      var input = form.querySelector("input[type=file]");
      input.files = e.dataTransfer.files;
      if (input.files.length) form.requestSubmit();
    });
  }

  function follow() {
    var job = document.querySelector("[data-follow]");
    if (!job) return;
    fetch(job.dataset.follow, {credentials: "same-origin"}).then(function (r) { return r.json(); }).then(function (now) {
      if (!document.contains(job)) return;
      if (now.state !== "running") { fetch_in(location.pathname, {}, true); return; }
      var stage = job.querySelector("[data-stage]");
      if (stage.textContent !== now.stage) stage.textContent = now.stage;
      job.querySelector("[data-seconds]").textContent = Math.round(now.seconds) + " s";
      setTimeout(follow, 500);
    }).catch(function () { setTimeout(follow, 2000); });
  }

  function ready() {
    document.querySelectorAll("form[data-drop]").forEach(drop_on);
    follow();
  }
  ready();
  take_up_moved();
  body.dataset.ready = "yes";
})();
