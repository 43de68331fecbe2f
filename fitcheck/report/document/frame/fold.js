"use strict";
// Sections fold: closed at first on a phone, all open on paper, opened by whatever leads into them.
(function () {
  const parts = Array.from(document.querySelectorAll("details"));
  const main = parts.filter(function (part) { return part.classList.contains("part"); });
  if (window.matchMedia("(max-width: 700px)").matches) for (const part of main) part.open = false;

  function reveal(item) {
    const own = item.querySelector(":scope > details.part");
    if (own) own.open = true;
    for (let up = item; up; up = up.parentElement) if (up.tagName === "DETAILS") up.open = true;
  }

  function led(hash) {
    const item = hash.length > 1 && document.getElementById(decodeURIComponent(hash.slice(1)));
    if (item) reveal(item);
    return item;
  }

  document.addEventListener("click", function (event) {
    const link = event.target.closest('a[href^="#"]');
    if (link) led(link.getAttribute("href"));
  });
  window.addEventListener("beforeprint", function () { for (const part of parts) part.open = true; });
  const first = led(window.location.hash);
  if (first) first.scrollIntoView();
  window.fitcheckReveal = reveal;
})();
