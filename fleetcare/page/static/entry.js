/* Comfort only: while one types, says what the distance divides into. The page is complete without. */
(function () {
  "use strict";
  /* Behind a link a small worker keeps the digits if they do not get through, for this page alone. */
  if (navigator.serviceWorker && /^\/o\/[^/]+$/.test(location.pathname)) {
    var css = document.querySelector("link[rel=stylesheet]").getAttribute("href"), lang = document.documentElement.lang;
    navigator.serviceWorker.register("/reading-worker.js?css=" + encodeURIComponent(css) + "&lang=" + lang, { scope: location.pathname }).catch(function () {});
  }
  var form = document.getElementById("reading"), say = document.getElementById("say");
  if (!form || !say || !form.dataset.last) return;
  var last = parseFloat(form.dataset.last), most = 9999;

  function mix() {
    var parts = [];
    form.querySelectorAll(".part").forEach(function (row) {
      var chosen = row.querySelector("input:checked"), count = chosen ? +chosen.value : 0;
      if (count) parts.push([row.querySelector(".nm").firstChild.data, count]);
    });
    return parts;
  }

  function grouped(number) {
    return String(number).replace(/\B(?=(\d{3})+$)/g, "\u2009");
  }

  function tell() {
    var unit = form.querySelector("[name=unit]:checked"), parts = mix();
    var gain = Math.round(parseFloat(form.odo.value.replace(/[ ,\u2009]/g, "")) - last);
    var whole = parts.reduce(function (sum, part) { return sum + part[1]; }, 0);
    say.hidden = !(gain > 0 && gain <= most && whole && (!unit || unit.value === form.dataset.unit));
    if (say.hidden) return;
    var left = gain, told = parts.map(function (part, index) {
      var share = index === parts.length - 1 ? left : Math.round(gain * part[1] / whole);
      left -= share;
      return grouped(share) + " " + form.dataset.unit + " " + part[0];
    });
    say.textContent = form.dataset.told.replace("{gain}", grouped(gain) + " " + form.dataset.unit).replace("{parts}", told.join(", "));
  }

  form.addEventListener("input", tell);
  tell();
})();
