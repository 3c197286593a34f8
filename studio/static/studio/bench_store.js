/* What the device keeps: entries that are not yet saved, and the last state of every batch that was opened here.
   In IndexedDB; where the browser has none, in localStorage, which takes no photos; else in memory, and it says so. */

const DATABASE = "bench";
const OUTBOX = "outbox";
const KEPT = "kept";
const FULL = "This device has no room left. Do not close or reload this page before everything is saved.";
// Read by every page, to say that something waits.
const WAITING = "bench-waiting";

function settled(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function openDatabase() {
  const request = indexedDB.open(DATABASE, 1);
  request.onupgradeneeded = () => {
    request.result.createObjectStore(OUTBOX, { keyPath: "key" });
    request.result.createObjectStore(KEPT, { keyPath: "code" });
  };
  return settled(request);
}

/** Keeps rows in IndexedDB; a write is over when the disk has it. */
class Database {
  photos = true;
  words = "";

  constructor(database) {
    this.database = database;
  }

  all(table) {
    return settled(this.database.transaction(table).objectStore(table).getAll());
  }

  write(table, act) {
    return new Promise((resolve, reject) => {
      const transaction = this.database.transaction(table, "readwrite", { durability: "strict" });
      transaction.oncomplete = () => resolve();
      transaction.onabort = () => reject(transaction.error);
      act(transaction.objectStore(table));
    });
  }

  put(table, row) {
    return this.write(table, (rows) => rows.put(row));
  }

  remove(table, key) {
    return this.write(table, (rows) => rows.delete(key));
  }
}

/** Keeps rows in localStorage, or in memory where even that is shut. */
class Plain {
  photos = false;

  constructor() {
    this.memory = {};
    try {
      localStorage.setItem("bench-try", "1");
      localStorage.removeItem("bench-try");
      this.storage = localStorage;
      this.words = "";
    } catch {
      this.storage = null;
      this.words = "This browser keeps nothing. Do not close or reload this page before everything is saved.";
    }
  }

  rows(table) {
    return this.storage ? JSON.parse(this.storage.getItem(`bench-${table}`) ?? "{}") : (this.memory[table] ?? {});
  }

  keep(table, rows) {
    if (this.storage) this.storage.setItem(`bench-${table}`, JSON.stringify(rows));
    else this.memory[table] = rows;
  }

  async all(table) {
    return Object.values(this.rows(table));
  }

  async put(table, row) {
    this.keep(table, { ...this.rows(table), [row.key ?? row.code]: row });
  }

  async remove(table, key) {
    const rows = this.rows(table);
    delete rows[key];
    this.keep(table, rows);
  }
}

/** What is kept, in memory for reading and on the device for good. */
export class Store {
  static async open() {
    let behind;
    try {
      behind = new Database(await openDatabase());
    } catch {
      behind = new Plain();
    }
    const store = new Store();
    store.behind = behind;
    await store.reload();
    navigator.storage?.persist?.().catch(() => {});
    return store;
  }

  /** What the device had no room for: it waits in memory alone. */
  loose = new Map();

  get takesPhotos() {
    return this.behind.photos;
  }

  /** A sentence where what is entered would be gone with the page; else "". */
  get warning() {
    return this.loose.size ? FULL : this.behind.words;
  }

  /** Read the outbox anew: another page on this device may have sent some of it. */
  async reload() {
    const kept = (await this.behind.all(OUTBOX)).filter((entry) => !this.loose.has(entry.key));
    this.outbox = [...kept, ...this.loose.values()].sort((one, two) => one.seq - two.seq);
    this.tell();
  }

  async keep(entry) {
    try {
      await this.behind.put(OUTBOX, entry);
      this.loose.delete(entry.key);
    } catch {
      this.loose.set(entry.key, entry);
    }
    const at = this.outbox.findIndex((each) => each.key === entry.key);
    if (at < 0) this.outbox.push(entry);
    else this.outbox[at] = entry;
    this.tell();
  }

  async drop(key) {
    await this.behind.remove(OUTBOX, key);
    this.loose.delete(key);
    this.outbox = this.outbox.filter((each) => each.key !== key);
    this.tell();
  }

  nextNumber() {
    return Math.max(Date.now(), ...this.outbox.map((each) => each.seq + 1));
  }

  /** The batch as it was last seen, or null. */
  async lastState(code) {
    return (await this.behind.all(KEPT)).find((each) => each.code === code)?.state ?? null;
  }

  async keepState(state) {
    const kept = { ...state };
    delete kept.token;
    try {
      await this.behind.put(KEPT, { code: state.batch.code, state: kept });
    } catch {
      // A device that is full shows an older state when it is opened without the network.
    }
  }

  /** Leave word for the studio's other pages of how many entries wait, whose, and where they are sent from. */
  tell() {
    try {
      if (!this.outbox.length) localStorage.removeItem(WAITING);
      else {
        const people = [...new Set(this.outbox.map((each) => each.by.name))];
        const words = { count: this.outbox.length, people, batch: this.outbox[0].batch };
        localStorage.setItem(WAITING, JSON.stringify(words));
      }
    } catch {
      // Without it the other pages say nothing; this one still does.
    }
  }
}
