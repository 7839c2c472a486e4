// Follows the current survey; without it the reader reloads the page.
"use strict";
(() => {
  const state = document.getElementById("work-state");
  if (!state.dataset.running) return;
  const events = new EventSource("/surveys/events");
  events.onmessage = ev => {
    const s = JSON.parse(ev.data);
    state.textContent = s.files.join(" ") + " by " + s.by + ": " + s.words + ", " + s.routes + " routes done";
    if (!s.is_running) {
      events.close();
      location.reload();
    }
  };
})();
