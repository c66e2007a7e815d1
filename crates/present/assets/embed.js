// <cringle-session club="…" session="…"> shows one session's call on a club's own website. With boat, level or venue in
// place of session it is the next one that matches. The service is the one that this script comes from.
//
// Owns: how long a call may stand on a page that nobody loads anew. Must not know: any rule of wind or sail. It stores
// nothing and sends no cookie; what came over the wire becomes text, never markup.
(() => {
  "use strict";
  // A module has no currentScript; its own address cannot be asked for without becoming one.
  const script = document.currentScript || document.querySelector('script[src$="/embed.js"]');
  const SERVICE = script ? new URL(".", script.src).href : "";
  const STYLE = `/* embed.css */`;
  const CAUTION = "The skipper on the water decides. Official warnings were not checked here.";
  const NAMES = ["club", "session", "boat", "level", "venue"];

  // Milliseconds. Common practice (no source): the service lets an answer be kept for a minute.
  const EVERY = 180_000, AGAIN_AFTER_A_FAILURE = 60_000, PATIENCE = 10_000, LONGEST_SLEEP = 60_000;

  // Words and marks; a call that is not among them is never shown as one.
  const CALLS = new Map([
    ["go", ["Go", ["go", "M4.5 0h15v24h-15z"], ["", "M0 0h4.5v24H0zM19.5 0H24v24h-4.5zM12 3.5 17 20.5H7z"]]],
    ["marginal", ["Marginal", ["mg", "M0 0h24v24H0z"], ["", "M0 0h15v9.2H0zM9 14.8h15V24H9z"]]],
    ["no-go", ["No-go", ["", "M0 0h24v24H0zM4.2 9.6v4.8h15.6V9.6z"]]],
    ["no-call", ["No call", ["open", "M1.6 1.6h20.8v20.8H1.6z"]]],
  ]);

  // Two clocks of the reader's: one stands still while the machine sleeps, the other can be set back.
  const moment = () => ({ steady: performance.now(), wall: Date.now() });
  const passedSince = (then) => {
    const now = moment();
    return Math.max(now.steady - then.steady, now.wall - then.wall);
  };

  // The service's time when it was asked, at the latest: Date is in whole seconds, and a cache on the way adds Age.
  function timeSaid(headers, asked) {
    const date = Date.parse(headers.get("date") || "");
    const age = Number(headers.get("age")) || 0;
    return Number.isFinite(date) ? date + 1000 * (1 + Math.max(age, 0)) : asked.wall;
  }

  const isText = (value) => typeof value === "string" && value !== "";
  const text = (value) => (isText(value) ? value : "");

  // The first session of a list, null for an empty list; throws where anything is missing that a call needs.
  function read(list) {
    if (list.sessions.length === 0) return null;
    const entry = list.sessions[0], card = entry.card, until = Date.parse(entry.valid_until);
    const needed = [entry.id, entry.call, card.who, card.when, card.valid, list.club];
    if (!needed.every(isText) || !isText(entry.valid_until) || !Number.isFinite(until)) throw new Error("incomplete");
    return { entry, card, until, club: list.club, call: CALLS.has(entry.call) ? entry.call : "no-call" };
  }

  async function ask(address, signal) {
    const asked = moment();
    const wanted = { cache: "no-cache", credentials: "omit", referrerPolicy: "no-referrer", signal };
    const response = await fetch(address, wanted);
    const refused = [400, 401, 403, 404, 410].includes(response.status);
    if (!response.ok && !refused) throw new Error(`status ${response.status}`);
    const found = refused ? null : read(await response.json());
    return { found, asked, said: timeSaid(response.headers, asked) };
  }

  // What stands on a card: every word of it, and where its link leads.
  const noCall = (line) => ({ call: "no-call", word: "No call", line, address: SERVICE });

  function shownOf({ found, said, asked }, lost, slug) {
    if (!found) return noCall("The service lists no such session.");
    const { entry, card, until, club } = found;
    const old = entry.old !== false || said + passedSince(asked) >= until;
    const call = old ? "no-call" : found.call;
    const light = call === "go" && entry.light === true ? ", light" : "";
    const path = `v1/clubs/${encodeURIComponent(slug)}/sessions/${encodeURIComponent(entry.id)}`;
    return {
      old,
      call,
      word: old ? "Old: no call" : CALLS.get(call)[0] + light,
      club,
      when: card.when,
      who: card.who,
      stamp: text(card.decides),
      decided: Boolean(entry.decision),
      line: old ? "Look for a newer one before anything is decided." : lineOf(found),
      out: old || !isText(card.way_out) ? "" : `Way out: ${card.way_out}`,
      until: `${card.valid}${lost ? " The service was not reached just now." : ""}`,
      origin: text(card.origin),
      address: `${SERVICE}${path}/advisory?format=html`,
    };
  }

  const lineOf = ({ entry, card }) =>
    CALLS.has(entry.call) ? text(card.line) : "The service says what this card does not know.";

  function element(name, classes, ...inside) {
    const made = document.createElement(name);
    if (classes) made.className = classes;
    made.append(...inside);
    return made;
  }

  function markOf(call) {
    const space = "http://www.w3.org/2000/svg";
    const svg = document.createElementNS(space, "svg");
    for (const [name, value] of [["class", "mark"], ["viewBox", "0 0 24 24"], ["aria-hidden", "true"]])
      svg.setAttribute(name, value);
    for (const [classes, shape] of CALLS.get(call).slice(1)) {
      const path = document.createElementNS(space, "path");
      path.setAttribute("class", classes);
      path.setAttribute("fill-rule", "evenodd");
      path.setAttribute("d", shape);
      svg.append(path);
    }
    return svg;
  }

  // A sheet of its own where there can be one: a site that forbids inline styles has the card in its dress all the same.
  function dress(root) {
    try {
      const sheet = new CSSStyleSheet();
      sheet.replaceSync(STYLE);
      root.adoptedStyleSheets = [sheet];
    } catch {
      root.append(element("style", "", STYLE));
    }
  }

  class CringleSession extends HTMLElement {
    static observedAttributes = NAMES;

    connectedCallback() {
      if (!this.shadowRoot) this.build();
      this.look = () => this.lookNow();
      document.addEventListener("visibilitychange", this.look);
      for (const event of ["pageshow", "online"]) window.addEventListener(event, this.look);
      this.begin();
    }

    disconnectedCallback() {
      this.leaveOff();
      document.removeEventListener("visibilitychange", this.look);
      for (const event of ["pageshow", "online"]) window.removeEventListener(event, this.look);
    }

    attributeChangedCallback() {
      if (this.isConnected && this.shadowRoot) this.begin();
    }

    build() {
      const root = this.attachShadow({ mode: "open" });
      dress(root);
      const p = {};
      for (const name of ["word", "who", "stamp", "line", "out", "until", "origin", "when"]) p[name] = element("p", name);
      p.club = element("span", "club");
      p.when = element("span", "when");
      p.word.setAttribute("aria-live", "polite");
      for (const name of ["until", "origin"]) p[name].className = `${name} more`;
      p.link = element("a", "", "The whole advisory");
      p.link.target = "_top";
      const head = element("p", "head", p.club, p.when);
      p.call = element("div", "call", markOf("no-call"), element("div", "", p.word, p.who));
      const caution = element("p", "more", CAUTION);
      const link = element("p", "", p.link);
      p.card = element("article", "card", head, p.call, p.stamp, p.line, p.out, p.until, link, caution, p.origin);
      p.card.lang = "en";
      p.slot = element("slot");
      p.card.hidden = true;
      root.append(p.slot, p.card);
      this.parts = p;
    }

    // From the beginning: nothing is known yet, and what stands inside the element is shown.
    begin() {
      this.leaveOff();
      this.answer = this.lost = this.turned = this.asked = undefined;
      this.lookNow();
    }

    leaveOff() {
      clearTimeout(this.timer);
      if (this.underWay) this.underWay.abort();
      this.underWay = undefined;
    }

    address() {
      const wanted = new URLSearchParams({ limit: "1", ahead: this.getAttribute("session") ? "false" : "true" });
      for (const name of NAMES.slice(1)) if (this.getAttribute(name)) wanted.set(name, this.getAttribute(name));
      return `${SERVICE}v1/clubs/${encodeURIComponent(this.getAttribute("club"))}/sessions?${wanted}`;
    }

    // Shows what may be shown now, asks where it is time to, and comes again.
    lookNow() {
      clearTimeout(this.timer);
      if (!this.isConnected) return;
      if (!SERVICE || !this.getAttribute("club")) return this.show(noCall("This card names no club or no service."));
      const due = !this.asked || passedSince(this.asked) >= this.period;
      const seen = document.visibilityState !== "hidden";
      if (due && seen) this.askNow();
      const shown = this.shownNow();
      if (shown) this.show(shown);
      this.askSoonIfItTurned(shown && shown.old);
      this.timer = setTimeout(this.look, this.sleep(shown && shown.old, due && !seen));
    }

    shownNow() {
      if (this.answer) return shownOf(this.answer, this.lost, this.getAttribute("club"));
      return this.lost ? noCall("The service cannot be reached.") : undefined;
    }

    async askNow() {
      const mine = new AbortController(), patience = setTimeout(() => mine.abort(), PATIENCE);
      this.underWay = mine;
      this.asked = moment();
      this.period = EVERY;
      let answer;
      try {
        answer = await ask(this.address(), mine.signal);
      } catch {
        // Nothing that can be read came: what is known stands for as long as it holds.
      }
      clearTimeout(patience);
      if (this.underWay !== mine) return;
      this.lost = !answer;
      if (answer) this.answer = answer;
      else this.period = AGAIN_AFTER_A_FAILURE;
      this.lookNow();
    }

    // Once, a little later, and not all the readers at the same moment.
    askSoonIfItTurned(old) {
      if (old && !this.turned) this.period = Math.min(this.period, passedSince(this.asked) + 2000 + 8000 * Math.random());
      this.turned = Boolean(old);
    }

    // Until the call turns old or it is time to ask, a minute at most: a longer timer would not notice a changed clock. What was not yet
    // so when it was looked at, and is by now, is so at the next look. A page that nobody sees waits for that.
    sleep(old, unseen) {
      const { found, said, asked } = this.answer || {};
      const holds = found && !old ? found.until - said - passedSince(asked) : LONGEST_SLEEP;
      const rests = this.asked && !unseen ? this.period - passedSince(this.asked) : LONGEST_SLEEP;
      return Math.max(Math.min(holds, rests, LONGEST_SLEEP), 250);
    }

    show(shown) {
      const p = this.parts;
      for (const name of ["word", "club", "when", "who", "stamp", "line", "out", "until", "origin"]) {
        const words = shown[name] || "";
        // A live region that is written again is read out again.
        if (p[name].textContent !== words) p[name].textContent = words;
        p[name].hidden = !words;
      }
      p.stamp.className = shown.decided ? "stamp decided" : "stamp";
      p.link.href = shown.address;
      p.call.replaceChild(markOf(shown.call), p.call.firstChild);
      p.card.setAttribute("aria-label", [shown.who, shown.when].filter(Boolean).join(", ") || "A session's call");
      p.card.hidden = false;
      p.slot.hidden = true;
    }
  }

  if (!customElements.get("cringle-session")) customElements.define("cringle-session", CringleSession);
})();
