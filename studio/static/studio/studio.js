/* Comforts only: every page does its whole job without this file. */
"use strict";

(() => {
  // A download answers without leaving the page, so a pressed button comes back by itself.
  const RELEASE_AFTER_MS = 8000;

  const release = (form) => {
    delete form.dataset.sent;
    form.querySelectorAll("[data-working]").forEach((line) => { line.hidden = true; });
    form.querySelectorAll("[data-pressed]").forEach((button) => {
      button.removeAttribute("aria-disabled");
      button.removeAttribute("data-pressed");
    });
  };

  // One press, one posting. The button is marked rather than disabled: a disabled button would lose the
  // focus and, in the same turn, its name and value.
  document.addEventListener("submit", (event) => {
    const form = event.target;
    // Attributes, not properties: a field named "target" would stand in the property's place.
    const posts = form.getAttribute("method")?.toLowerCase() === "post";
    if (event.defaultPrevented || !posts || form.hasAttribute("target")) return;
    if (form.dataset.sent || form.dataset.stale) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "true";
    // What takes a while says that it is at work.
    form.querySelectorAll("[data-working]").forEach((line) => { line.hidden = false; });
    if (event.submitter) {
      event.submitter.setAttribute("aria-disabled", "true");
      event.submitter.dataset.pressed = "true";
    }
    setTimeout(release, RELEASE_AFTER_MS, form);
  });

  // What a page worked out from a form is out of date as soon as something else is typed: it cannot be sent until
  // it has been worked out again.
  document.addEventListener("input", (event) => {
    const shown = event.target.form?.getAttribute("hx-target");
    if (!shown) return;
    document.querySelectorAll(`${shown} form`).forEach((form) => {
      form.dataset.stale = "true";
      form.querySelectorAll("button").forEach((button) => button.setAttribute("aria-disabled", "true"));
    });
  });

  // Coming back with the browser's Back button shows the page as it was left, pressed button included.
  window.addEventListener("pageshow", () => {
    document.querySelectorAll("form[data-sent]").forEach(release);
  });

  // A drawing larger than its frame opens where what it is about stands.
  document.querySelectorAll("[data-show]").forEach((frame) => {
    const shown = frame.querySelector(frame.dataset.show)?.getBoundingClientRect();
    if (!shown) return;
    const own = frame.getBoundingClientRect();
    frame.scrollLeft += shown.left + shown.width / 2 - own.left - own.width / 2;
    frame.scrollTop += shown.top + shown.height / 2 - own.top - own.height / 2;
  });

  document.addEventListener("change", (event) => {
    if (event.target.matches("select[data-auto-submit]")) event.target.form.requestSubmit();
  });

  const closeMenus = (except) => {
    document.querySelectorAll("details.account[open]").forEach((menu) => {
      if (menu !== except) menu.open = false;
    });
  };
  document.addEventListener("click", (event) => closeMenus(event.target.closest("details.account")));
  document.addEventListener("keydown", (event) => {
    const menu = event.key === "Escape" && document.querySelector("details.account[open]");
    if (!menu) return;
    if (menu.contains(document.activeElement)) menu.querySelector("summary").focus();
    closeMenus();
  });

  // A table wider than its frame must scroll by keyboard too.
  const reachFrames = () => {
    document.querySelectorAll(".table-frame").forEach((frame) => {
      if (frame.scrollWidth > frame.clientWidth) frame.tabIndex = 0;
      else frame.removeAttribute("tabindex");
    });
  };
  window.addEventListener("resize", reachFrames);
  reachFrames();

  const showErrors = (root) => root.querySelector(".error-summary")?.focus();
  document.addEventListener("htmx:load", (event) => {
    reachFrames();
    showErrors(event.target);
  });
  showErrors(document);
})();
