/* On every page: says when entries from the bench wait on this device, and on signing out forgets what was kept of the
   bench for reading. What waits to be saved is never forgotten. */
"use strict";

(() => {
  const signedIn = document.currentScript.dataset.signedIn === "yes";

  const waiting = () => {
    try {
      return JSON.parse(localStorage.getItem("bench-waiting"));
    } catch {
      return null;
    }
  };

  const emptied = (name) => new Promise((resolve) => {
    const request = indexedDB.open("bench");
    request.onerror = resolve;
    request.onupgradeneeded = () => request.transaction.abort();
    request.onsuccess = () => {
      const database = request.result;
      if (!database.objectStoreNames.contains(name)) return resolve();
      const transaction = database.transaction(name, "readwrite");
      transaction.objectStore(name).clear();
      transaction.oncomplete = transaction.onabort = () => { database.close(); resolve(); };
    };
  });

  const forget = async () => {
    try {
      localStorage.removeItem("bench-kept");
      await Promise.all([window.caches?.delete("bench-pages"), window.indexedDB && emptied("kept")]);
    } catch {
      // Nothing is kept where nothing can be kept.
    }
  };

  const words = (found) => {
    const count = found.count === 1 ? "1 entry from the bench is" : `${found.count} entries from the bench are`;
    return `${count} kept on this device and not yet saved`;
  };

  const found = waiting();
  if (!signedIn) forget();
  else if (found) {
    const notice = document.createElement("p");
    const link = document.createElement("a");
    notice.className = "notice attention";
    link.href = `/batches/${encodeURIComponent(found.batch)}/bench/`;
    link.textContent = "Open the bench to save them.";
    notice.append(`${words(found)}. `, link);
    const main = document.querySelector("main:not(.bench-main)");
    main?.querySelector(".page-head")?.after(notice);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.getAttribute("action")?.endsWith("/sign-out/")) return;
    event.preventDefault();
    const left = waiting();
    const whose = left && left.people.join(" and ");
    if (left && !confirm(`${words(left)}. They stay here and wait until ${whose} signs in again. Sign out?`)) return;
    forget().then(() => form.submit());
  }, { capture: true });
})();
