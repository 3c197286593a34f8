// A clock that runs on the page: [data-running-since] holds the instant it began, kept by the server.
"use strict";

for (const place of document.querySelectorAll("[data-running-since]")) {
  const began = Date.parse(place.dataset.runningSince);
  const two = (number) => String(number).padStart(2, "0");
  const show = () => {
    const seconds = Math.max(0, Math.floor((Date.now() - began) / 1000));
    const minutes = Math.floor(seconds / 60);
    place.textContent = `${Math.floor(minutes / 60)}:${two(minutes % 60)}:${two(seconds % 60)}`;
  };
  // Days are told by the server in words; seconds would say nothing there.
  if (Date.now() - began < 24 * 3600 * 1000) {
    show();
    setInterval(show, 1000);
  }
}
