"use strict";
(function () {
  var stopPlaying = null;

  function each(selector, within, act) {
    Array.prototype.forEach.call(within.querySelectorAll(selector), act);
  }

  // Some phones do not play sound straight from the text of a page, so each sound becomes a file in memory when it is first played.
  function ready(audio) {
    var source = audio.getAttribute("src");
    if (source.slice(0, 5) !== "data:") { return audio; }
    var bytes = atob(source.slice(source.indexOf(",") + 1));
    var array = new Uint8Array(bytes.length);
    for (var i = 0; i < bytes.length; i += 1) { array[i] = bytes.charCodeAt(i); }
    audio.src = URL.createObjectURL(new Blob([array], { type: "audio/mpeg" }));
    return audio;
  }

  function say(button, isPlaying) {
    if (!button.dataset.words) { button.dataset.words = button.textContent; }
    button.textContent = isPlaying ? "Stop" : button.dataset.words;
    button.setAttribute("aria-label", button.textContent + (isPlaying ? " playing " : " ") + button.dataset.of);
    button.classList.toggle("playing", isPlaying);
  }

  function play(button, sounds) {
    var place = 0, isOver = false;
    function finish() {
      if (isOver) { return; }
      isOver = true;
      sounds.forEach(function (audio) { audio.pause(); audio.onended = null; });
      say(button, false);
      stopPlaying = null;
    }
    function next() {
      if (isOver) { return; }
      if (place >= sounds.length) { finish(); return; }
      var audio = ready(sounds[place]);
      place += 1;
      audio.currentTime = 0;
      audio.onended = function () { setTimeout(next, place < sounds.length ? 350 : 0); };
      var started = audio.play();
      if (started) { started.catch(finish); }
    }
    if (stopPlaying) { stopPlaying(); }
    stopPlaying = finish;
    say(button, true);
    next();
  }

  function prepare(group) {
    var sounds = {};
    each("audio", group, function (audio) { sounds[audio.dataset.sound] = audio; });
    each("button", group, function (button) {
      var turns = [sounds.fresh, sounds.now, sounds.fresh, sounds.now];
      button.dataset.of = group.getAttribute("aria-label").replace("Listen to ", "");
      say(button, false);
      button.addEventListener("click", function () {
        if (button.classList.contains("playing")) { stopPlaying(); return; }
        play(button, button.dataset.play === "turns" ? turns : [sounds[button.dataset.play]]);
      });
    });
  }

  // A phone's style lays the rows of these tables out as blocks; some browsers then take them for no tables.
  var ROLES = { THEAD: "rowgroup", TBODY: "rowgroup", TR: "row", TD: "cell" };
  function sayTable(table) {
    table.setAttribute("role", "table");
    each("thead, tbody, tr, td", table, function (part) { part.setAttribute("role", ROLES[part.tagName]); });
    each("th", table, function (part) { part.setAttribute("role", part.scope === "row" ? "rowheader" : "columnheader"); });
  }

  // Without script a browser opens the row too, as the target lies inside it.
  function openTarget() {
    var target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    var row = target && target.closest(".string > details");
    if (row) {
      row.open = true;
      row.querySelector("summary").focus({ preventScroll: true });
      row.scrollIntoView();
    }
  }

  document.documentElement.classList.add("scripted");
  each(".with-script", document, function (part) { part.hidden = false; });
  each(".listen", document, prepare);
  each(".figures, .compare", document, sayTable);
  each("button[data-open]", document, function (button) {
    button.addEventListener("click", function () {
      each(".string > details", document, function (row) { row.open = button.dataset.open === "all"; });
    });
  });
  window.addEventListener("hashchange", openTarget);
  each('a[href^="#s"]', document, function (link) {
    link.addEventListener("click", function () { setTimeout(openTarget, 0); });
  });
  openTarget();
})();
