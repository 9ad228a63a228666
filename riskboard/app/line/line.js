"use strict";
// Keeps what is typed on this phone until the server has it, sends it again by itself, and says in words whether it is
// on record. Counts waits. It decides nothing: what an entry means, and whether it was kept, is the server's answer.

const AGAIN_AFTER_S = [2, 4, 8, 15];
const PATIENCE_MS = 20000;
const OWN = ["token", "person"]; // of this drawing of the page, never brought back

const memory = {
  read(key) {
    try {
      return JSON.parse(sessionStorage.getItem(key)) || {};
    } catch {
      return {};
    }
  },
  write(key, value) {
    try {
      sessionStorage.setItem(key, JSON.stringify(value));
      return true;
    } catch {
      return false; // a browser that keeps nothing: then the page itself is the only copy, and says so
    }
  },
  forget(key) {
    try {
      sessionStorage.removeItem(key);
    } catch {
      // nothing was kept
    }
  },
};

class Keeper {
  constructor(form) {
    this.form = form;
    this.key = form.dataset.kept;
    this.bar = form.querySelector("[data-bar]");
    this.waiting = false; // pressed, and not on record yet
    this.busy = false; // on its way
    this.tries = 0;
    form.addEventListener("input", () => this.typed());
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.press();
    });
    this.restore();
  }

  entries() {
    return [...new FormData(this.form)].filter(([name]) => !OWN.includes(name));
  }

  keep() {
    return memory.write(this.key, { entries: this.entries(), waiting: this.waiting });
  }

  restore() {
    const kept = memory.read(this.key);
    if (!kept.entries) return;
    const values = new Map();
    for (const [name, value] of kept.entries) values.set(name, [...(values.get(name) || []), value]);
    for (const field of this.form.elements) {
      if (!field.name || OWN.includes(field.name)) continue;
      const found = values.get(field.name) || [];
      if (field.type === "radio" || field.type === "checkbox") field.checked = found.includes(field.value);
      else field.value = found[0] || "";
    }
    if (kept.waiting) this.press();
    else this.say("typed", "NOT SAVED YET", "What you typed is here. Press when it is complete.");
  }

  typed() {
    const pressed = this.waiting;
    this.waiting = false;
    clearTimeout(this.timer);
    const kept = this.keep();
    const where = kept ? "It is kept on this phone." : "This browser keeps nothing: do not close the page.";
    if (pressed) this.say("waiting", "NOT SAVED YET", `You changed it after you had pressed. Press again. ${where}`);
    else this.say("typed", "NOT SAVED YET", where);
  }

  press() {
    if (this.waiting || this.busy) return; // a double tap
    this.waiting = true;
    this.tries = 0;
    this.keep();
    this.send("press");
  }

  again() {
    if (!this.waiting || this.busy) return;
    clearTimeout(this.timer);
    this.send("itself");
  }

  later(why) {
    const after_s = AGAIN_AFTER_S[Math.min(this.tries, AGAIN_AFTER_S.length - 1)];
    this.tries += 1;
    this.timer = setTimeout(() => this.again(), after_s * 1000);
    const where = this.keep() ? "kept on this phone and" : "only on this page, and";
    const kept = `What you typed is ${where} sent again by itself. Keep this page open.`;
    this.say("waiting", "NOT SAVED YET", `${why} ${kept}`, this.button("Try now", () => this.again()));
  }

  async send(by) {
    this.busy = true;
    if (by === "press") this.say("sending", "Saving", "Not on record yet.");
    let answer;
    let text;
    try {
      answer = await fetch(this.form.action, {
        method: "POST",
        body: new URLSearchParams(new FormData(this.form)),
        headers: { "x-riskboard-by": by },
        credentials: "same-origin",
        cache: "no-store",
        signal: AbortSignal.timeout?.(PATIENCE_MS),
      });
      text = await answer.text();
    } catch {
      this.busy = false;
      if (this.waiting) this.later("No connection to the school.");
      return;
    }
    this.busy = false;
    if (!this.waiting) return; // changed on the way: the next press tells the server, and it knows what it has
    this.take(answer, text);
  }

  take(answer, text) {
    const said = answer.headers.get("x-riskboard");
    const fresh = new DOMParser().parseFromString(text, "text/html");
    const alert = fresh.querySelector("[data-alert]")?.textContent || "";
    if (!said || answer.status >= 500 || answer.status === 429) {
      this.later(said && alert ? alert : "The school's server does not answer.");
    } else if (said === "signed-out") {
      this.say("out", "NOT SAVED YET", alert, fresh.querySelector("[data-way]"));
    } else if (said === "sign-again" && !this.renewed) {
      this.renewed = true; // the session is another one since this page was drawn: once, with its own proof
      this.form.elements.token.value = fresh.querySelector("[name=token]").value;
      this.send("itself");
    } else {
      this.waiting = false;
      this.settle(said, fresh, alert);
    }
  }

  settle(said, fresh, alert) {
    const drawn = [...fresh.querySelectorAll("form[data-kept]")].find((form) => form.dataset.kept === this.key);
    if (said === "saved") memory.forget(this.key);
    else {
      if (drawn) this.form.elements.event_id.value = drawn.elements.event_id.value; // a new try is a new event
      this.keep();
    }
    if (said === "saved" || drawn) show(fresh);
    else this.say("refused", "NOT SAVED", alert, fresh.querySelector("[data-way]"));
  }

  say(state, strong, text, way) {
    const sentence = `${state} ${strong} ${text}`;
    if (sentence === this.sentence) return; // said already: not again with each letter to whoever listens
    this.sentence = sentence;
    this.bar.dataset.state = state;
    const says = this.bar.querySelector("[data-says]");
    const word = document.createElement("strong");
    word.textContent = strong;
    says.replaceChildren(word, ` ${text}`);
    const again = this.bar.querySelector("[data-again]");
    again.replaceChildren();
    again.hidden = !way;
    if (!way) return;
    if (way.tagName === "A") way.className = "button";
    again.append(document.adoptNode(way));
  }

  button(text, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "quiet";
    made.textContent = text;
    made.addEventListener("click", act);
    return made;
  }
}

class Wait {
  constructor(box) {
    this.box = box;
    this.lasts_ms = Number(box.dataset.wait) * 1000;
    this.key = `wait ${location.pathname} ${box.dataset.name}`;
    this.left = box.querySelector("[data-left]");
    this.says = box.querySelector("[data-over]");
    this.button = box.querySelector("button");
    this.button.hidden = false;
    this.button.addEventListener("click", () => {
      memory.write(this.key, { began: Date.now() });
      this.begin(Date.now());
    });
    const { began } = memory.read(this.key);
    if (began) this.begin(began);
  }

  begin(began) {
    clearInterval(this.ticks);
    this.began = began;
    this.box.dataset.state = "running";
    this.says.textContent = "";
    this.button.textContent = "Start again";
    this.button.className = "quiet";
    this.tick();
    if (this.box.dataset.state === "running") this.ticks = setInterval(() => this.tick(), 250);
  }

  tick() {
    const left_ms = this.began + this.lasts_ms - Date.now();
    const left_s = Math.max(0, Math.ceil(left_ms / 1000));
    this.left.textContent = `${Math.floor(left_s / 60)}:${String(left_s % 60).padStart(2, "0")}`;
    if (left_ms > 0 || !this.box.isConnected) return;
    clearInterval(this.ticks);
    this.box.dataset.state = "over";
    this.says.textContent = this.box.dataset.then;
    if (navigator.vibrate && -left_ms < 1000) navigator.vibrate(400);
  }
}

let keepers = [];

function begin() {
  keepers = [...document.querySelectorAll("form[data-kept]")].map((form) => new Keeper(form));
  for (const box of document.querySelectorAll("[data-wait]")) new Wait(box);
}

function show(fresh) {
  for (const keeper of keepers) clearTimeout(keeper.timer);
  document.title = fresh.title;
  document.querySelector("main").replaceWith(document.adoptNode(fresh.querySelector("main")));
  begin();
  const first = document.querySelector("[data-alert], [data-record]");
  if (!first) return;
  first.scrollIntoView({ block: "center" });
  first.focus({ preventScroll: true });
}

function tryAll() {
  for (const keeper of keepers) keeper.again();
}

addEventListener("online", tryAll);
addEventListener("pageshow", tryAll); // a page that the browser had laid aside
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") tryAll();
});
begin();
