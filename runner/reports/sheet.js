(function () {
  "use strict";
  var root = document.documentElement;

  function kept(key, value) {
    // Without storage (a private window, say) the page works until it is closed.
    try {
      if (value === undefined) return window.localStorage.getItem(key);
      if (value) window.localStorage.setItem(key, value);
      else window.localStorage.removeItem(key);
    } catch (error) { /* nothing is kept */ }
    return null;
  }

  function today() {
    var now = new Date();
    var day = function (number) { return (number < 10 ? "0" : "") + number; };
    return now.getFullYear() + "-" + day(now.getMonth() + 1) + "-" + day(now.getDate());
  }

  // `12 11/2; pain knee` as a line of the text: with exercise and level where counts come first.
  function line(exercise, typed) {
    var first = typed.charAt(0);
    var key = exercise.getAttribute("data-key") + "=";
    if (/^(pain|note|swap|warm-up)\b/i.test(typed)) return key + "; " + typed;
    if (/[0-9-]/.test(first) || /^nocount\b/i.test(typed)) {
      return key + exercise.getAttribute("data-level") + " " + typed;
    }
    return key + typed;
  }

  function start(page) {
    var id = page.getAttribute("data-sheet");
    var read = page.querySelector(".read");
    var date = page.querySelector(".on");
    var text = page.querySelector("textarea");
    var said = page.querySelector(".said");
    var exercises = Array.prototype.slice.call(page.querySelectorAll(".exercise"));

    function place(what) { return ["matside", id, what].join(" "); }
    function placeOf(number) { return place(date.value + " " + number); }
    function field(exercise) { return exercise.querySelector("input"); }

    function show() {
      exercises.forEach(function (exercise, number) {
        field(exercise).value = kept(placeOf(number)) || "";
      });
      text.value = "";
      said.textContent = "";
    }

    function lines() {
      var found = [
        "sheet " + id,
        "plan " + page.getAttribute("data-plan"),
        "session " + page.getAttribute("data-session"),
        "on " + date.value
      ];
      exercises.forEach(function (exercise) {
        var typed = field(exercise).value.replace(/\s+/g, " ").trim();
        if (typed) found.push(line(exercise, typed));
      });
      return found;
    }

    function tell(copied) {
      said.textContent = copied
        ? "Copied. Paste it into a message to your coach."
        : "Copy the text below by hand and send it to your coach.";
    }

    function copy() {
      var old = false;
      if (!date.value) { said.textContent = "Write the date of the session."; return; }
      text.value = lines().join("\n") + "\n";
      text.rows = Math.min(lines().length + 1, 24);
      text.focus();
      text.select();
      try { old = document.execCommand("copy"); } catch (error) { old = false; }
      if (old || !navigator.clipboard) { tell(old); return; }
      navigator.clipboard.writeText(text.value).then(
        function () { tell(true); }, function () { tell(false); });
    }

    exercises.forEach(function (exercise, number) {
      field(exercise).addEventListener("input", function () {
        kept(placeOf(number), field(exercise).value);
        said.textContent = "";
      });
    });
    read.open = kept(place("read")) !== "closed";
    read.addEventListener("toggle", function () {
      kept(place("read"), read.open ? "" : "closed");
    });
    date.value = today();
    date.addEventListener("change", show);
    page.querySelector("button").addEventListener("click", copy);
    show();
  }

  window.addEventListener("beforeprint", function () {
    Array.prototype.forEach.call(document.querySelectorAll(".read"), function (read) {
      read.open = true;
    });
  });
  Array.prototype.forEach.call(document.querySelectorAll(".page"), start);
  root.classList.add("live");
})();
