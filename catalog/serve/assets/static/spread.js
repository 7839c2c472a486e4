// Brings the surveys up to date while one of them has not ended; without it the reader reloads the page.
"use strict";
(() => {
  const every = 3000;
  const look = async () => {
    let runs = document.getElementById("runs");
    try {
      const answer = await fetch(location.href, {headers: {Accept: "text/html"}});
      const next = answer.ok && new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("runs");
      if (next) {
        runs.replaceWith(next);
        runs = next;
      }
    } catch {
      // The server or the network is away: the last state stays until it is back.
    }
    if (runs.dataset.moving) setTimeout(look, every);
  };
  if (document.getElementById("runs").dataset.moving) setTimeout(look, every);
})();
