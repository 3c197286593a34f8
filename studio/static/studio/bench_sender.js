/* Sends what waits, one entry after the other, and asks for the batch anew. Each is marked before it is sent, so that
   what may have arrived is never taken for unsent; the studio takes a key in once, however often it comes. */

const PATIENCE_MS = 20000;
const FIRST_WAIT_MS = 2000;
const LONGEST_WAIT_MS = 60000;

async function ask(url, options = {}) {
  const cut = new AbortController();
  const patience = setTimeout(() => cut.abort(), PATIENCE_MS);
  try {
    const headers = { Accept: "application/json", ...options.headers };
    const answer = await fetch(url, { ...options, headers, cache: "no-store", signal: cut.signal });
    const kind = answer.headers.get("Content-Type") ?? "";
    const said = kind.startsWith("application/json") ? await answer.json() : null;
    return { status: answer.status, said };
  } finally {
    clearTimeout(patience);
  }
}

const addressOf = (code, more) => `/batches/${encodeURIComponent(code)}/bench/${more}/`;

export class Sender {
  /** `changed` is called whenever the standing of what waits may be another. */
  constructor(store, state, changed) {
    this.store = store;
    this.changed = changed;
    this.state = state;
    this.token = state.token;
    this.user = state.user;
    // "", "network", "sign-in", "role" or "trouble": why what waits does not go.
    this.held = "";
    this.wait = FIRST_WAIT_MS;
    this.busy = false;
    this.again = false;
  }

  get mine() {
    return this.store.outbox.filter((entry) => entry.by.id === this.user.id && !entry.refusal);
  }

  /** Send what waits, and then bring the batch up to date; soon again when the network fails. */
  async go() {
    if (this.busy) {
      this.again = true;
      return;
    }
    this.busy = true;
    this.changed();
    clearTimeout(this.timer);
    try {
      do {
        this.again = false;
        await this.alone(() => this.rounds());
      } while (this.again);
      this.wait = FIRST_WAIT_MS;
    } catch {
      this.held = "network";
      this.timer = setTimeout(() => this.go(), this.wait);
      this.wait = Math.min(this.wait * 2, LONGEST_WAIT_MS);
    } finally {
      this.busy = false;
      this.changed();
    }
  }

  /** Two pages of one device take turns, where the browser can have them do so. */
  alone(act) {
    return navigator.locks ? navigator.locks.request("bench-sending", act) : act();
  }

  async rounds() {
    await this.store.reload();
    for (const entry of [...this.mine]) {
      if (!this.store.outbox.some((each) => each.key === entry.key)) continue;
      if (!(await this.send(entry))) return;
      this.changed();
    }
    await this.refresh();
  }

  /** Whether the next one may be sent. */
  async send(entry, anew = false) {
    await this.store.keep({ ...entry, tries: entry.tries + 1 });
    const body = new FormData();
    for (const [name, value] of Object.entries(entry.content)) {
      if (value !== null && value !== undefined && value !== false) body.append(name, value);
    }
    body.append("key", entry.key);
    body.append("by", entry.by.id);
    body.append("at", entry.at);
    body.append("sent_at", Date.now());
    if (entry.photo) body.append("photo", entry.photo, "photo.jpg");
    const headers = { "X-CSRFToken": this.token ?? "" };
    const { status, said } = await ask(addressOf(entry.batch, "entries"), { method: "POST", body, headers });
    if (status === 200 && said) {
      this.held = "";
      if (entry.batch === this.state.batch.code) await this.lay(entry, said.entry);
      await this.store.drop(entry.key);
      return true;
    }
    if (status === 403 && said?.refused === "token" && !anew) {
      return (await this.refresh()) && this.send(entry, true);
    }
    if (status === 401) return this.hold("sign-in");
    if (said?.refused === "person") return this.hold("sign-in");
    if (status === 403) return this.hold("role");
    if (status === 413) return this.refuse(entry, { refused: "form", sentence: "The photo is too large. Take a smaller one." });
    if (status === 404) return this.refuse(entry, { refused: "batch", sentence: "This batch is not there any more." });
    if (said?.refused && status < 500) return this.refuse(entry, said);
    throw new Error(`answered ${status}`);
  }

  /** Until the batch can be had anew, what was just saved is laid over what was known of it. */
  async lay(entry, saved) {
    const { entries, readings } = this.state;
    const back = entries.find((each) => each.key === entry.content.takes_back);
    if (back) Object.assign(back, { stands: false, fate: "taken back", goneSince: !back.fresh });
    entries.unshift({ ...saved, fresh: true });
    if (entry.content.kind === "reading") {
      const { reading, temperature, pour } = entry.content;
      readings.push({ kind: reading, temperature, at: entry.at, pour, entry: entry.key });
    }
    await this.store.keepState(this.state);
  }

  hold(why) {
    this.held = why;
    return false;
  }

  /** Keep it in sight with the studio's sentence; what was to take it back has nothing left to do. */
  async refuse(entry, refusal) {
    const back = this.store.outbox.find((each) => each.content.takes_back === entry.key);
    if (back) {
      await this.store.drop(back.key);
      await this.store.drop(entry.key);
    } else await this.store.keep({ ...entry, tries: entry.tries + 1, refusal });
    this.held = "";
    return true;
  }

  /** The batch anew; whether it could be had. */
  async refresh() {
    const { status, said } = await ask(addressOf(this.state.batch.code, "state"));
    if (status === 401) return this.hold("sign-in");
    if (status === 403) return this.hold("role");
    if (status !== 200 || !said) throw new Error(`answered ${status}`);
    this.held = "";
    this.state = said;
    this.token = said.token;
    this.user = said.user;
    await this.store.keepState(said);
    const arrived = new Set(said.entries.map((entry) => entry.key));
    for (const entry of [...this.store.outbox]) {
      if (arrived.has(entry.key) && !entry.refusal) await this.store.drop(entry.key);
    }
    return true;
  }

  /** What the studio knows of a code: a lot, or null; undefined without the network. */
  async lotOf(code) {
    try {
      const { status, said } = await ask(`${addressOf(this.state.batch.code, "state")}?code=${encodeURIComponent(code)}`);
      return status === 200 ? said.lot : undefined;
    } catch {
      return undefined;
    }
  }
}
