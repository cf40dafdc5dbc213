// A stopwatch under a wet thumb, and the light. Every page works without: times are then typed.

for (const button of document.querySelectorAll("[data-light]")) {
  button.hidden = false;
  const show = () => button.setAttribute("aria-pressed", String(document.documentElement.classList.contains("bright")));
  button.addEventListener("click", () => {
    const isBright = document.documentElement.classList.toggle("bright");
    try {
      localStorage.setItem("light", isBright ? "bright" : "");
    } catch {
      // It holds for this page, then.
    }
    show();
  });
  show();
}

// How long a stop can be taken back.
const UNDO_MS = 10_000;
const BOUNCE_MS = 250;

const felt = (pattern) => navigator.vibrate?.(pattern);

// The screen stays awake while a clock runs, and no longer.
let awake = null;
const stayAwake = async () => {
  try {
    awake = (await navigator.wakeLock?.request("screen")) ?? null;
  } catch {
    awake = null;
  }
};
const maySleep = () => {
  awake?.release();
  awake = null;
};

class Watch {
  constructor(root) {
    const key = root.dataset.watch;
    const section = root.closest("section");
    const named = (name) => section.querySelector(`[name="${CSS.escape(`${name}:${key}`)}"]`);
    this.root = root;
    this.section = section;
    this.words = root.dataset;
    this.value = named("value");
    this.unit = named("unit");
    this.bound = named("bound");
    this.touched = named("touched");
    this.shown = root.querySelector("output");
    this.touch = root.querySelector("[data-touch]");
    this.undo = root.querySelector("[data-undo]");
    this.giveUp = root.querySelector("[data-give-up]");
    this.started = null;
    this.ticking = 0;
    this.undoing = 0;
    root.hidden = false;
    this.onPress(this.touch, (at) => (this.started === null ? this.start(at) : this.stop(at, false)));
    this.onPress(this.giveUp, (at) => this.stop(at, true));
    this.undo.addEventListener("click", () => this.takeBack());
    // What is typed over is not the stopwatch's any more.
    this.value.addEventListener("input", () => (this.touched.value = ""));
    this.label(this.value.value === "" ? "start" : "again");
  }

  // On touch, not on release, with the moment that the event itself tells; keys and screen readers click.
  onPress(button, act) {
    let [last, isPressed] = [-Infinity, false];
    const press = (at) => {
      // A wet finger bounces.
      if (at - last < BOUNCE_MS) return;
      last = at;
      act(at);
    };
    button.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      isPressed = true;
      press(event.timeStamp);
    });
    button.addEventListener("click", (event) => {
      const isOfPress = isPressed && event.detail !== 0;
      isPressed = false;
      if (!isOfPress) press(event.timeStamp);
    });
  }

  label(word) {
    this.touch.textContent = this.words[word];
  }

  start(at) {
    this.started = at;
    clearTimeout(this.undoing);
    this.undo.hidden = true;
    this.giveUp.hidden = false;
    this.root.classList.add("running");
    this.section.scrollIntoView({ block: "start", behavior: "instant" });
    this.shown.setAttribute("aria-live", "off");
    this.label("stop");
    felt(30);
    stayAwake();
    this.tick();
  }

  tick() {
    const seconds = Math.max(0, Math.floor((performance.now() - this.started) / 1000));
    this.shown.textContent = `${seconds} s`;
    const next = (seconds + 1) * 1000 - (performance.now() - this.started);
    this.ticking = setTimeout(() => this.tick(), Math.max(next, 50));
  }

  stop(at, isRunningStill) {
    const seconds = Math.max(0, (at - this.started) / 1000).toFixed(1);
    this.before = { started: this.started, value: this.value.value, touched: this.touched.value, bound: this.bound.checked };
    this.halt();
    this.value.value = seconds;
    this.unit.value = "s";
    this.touched.value = "yes";
    this.bound.checked = isRunningStill;
    this.shown.setAttribute("aria-live", "polite");
    this.shown.textContent = `${this.words[isRunningStill ? "bound" : "taken"]} ${seconds} s`;
    this.label("again");
    this.undo.hidden = false;
    this.undoing = setTimeout(() => (this.undo.hidden = true), UNDO_MS);
    felt([60, 40, 60]);
  }

  halt() {
    this.started = null;
    clearTimeout(this.ticking);
    this.giveUp.hidden = true;
    this.root.classList.remove("running");
    if (watches.every((watch) => watch.started === null)) maySleep();
  }

  // As if it had not been stopped: the clock runs on from its own start.
  takeBack() {
    this.value.value = this.before.value;
    this.touched.value = this.before.touched;
    this.bound.checked = this.before.bound;
    this.start(this.before.started);
  }
}

const watches = [...document.querySelectorAll("[data-watch]")].map((root) => new Watch(root));

// A reading that is on its way is not left by mistake.
addEventListener("beforeunload", (event) => {
  if (watches.some((watch) => watch.started !== null)) event.preventDefault();
});
