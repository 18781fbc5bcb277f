// Everybody's row before and after a session. What is ticked or typed is numbered and sent until the
// server has answered that number, so that nothing is lost between two runs or when the page is
// loaded again; why somebody does otherwise may be health data, and is never kept in the browser.
const WAITING_MS = 4000;
const NO_ANSWER = "Not saved: the server does not answer. It is being sent again.";
const STORE = "warmcurve today ";
const PRIVATE = ["reason", "why"];
const MARKS = {
  long: ["path", { d: "M3 1.5 14 8 3 14.5Z", fill: "currentColor" }],
  short: ["path", { d: "M13 1.5 2 8 13 14.5Z", fill: "currentColor" }],
  standard: ["circle", { cx: 8, cy: 8, r: 5.5, fill: "currentColor" }],
  unknown: ["circle", { cx: 8, cy: 8, r: 5, fill: "none", stroke: "currentColor", "stroke-width": 2 }],
};

function fill(made, attributes, children) {
  for (const [name, value] of Object.entries(attributes))
    if (value !== false && value != null) made.setAttribute(name, value === true ? "" : value);
  made.append(...children.filter((child) => child != null && child !== ""));
  return made;
}
const make = (tag, attributes = {}, ...children) =>
  fill(document.createElement(tag), attributes, children);
const draw = (tag, attributes = {}, ...children) =>
  fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
const mark = (name) =>
  draw("svg", { viewBox: "0 0 16 16", "aria-hidden": "true", style: "color: var(--mark)" },
    draw(...MARKS[name]));

// What was said and not answered yet, in the order in which it was said.
class Said {
  constructor(key, answered) {
    this.place = STORE + key;
    try {
      this.waiting = JSON.parse(sessionStorage.getItem(this.place)) ?? [];
    } catch {
      this.waiting = [];
    }
    this.answer(answered);
  }

  answer(number) {
    this.waiting = this.waiting.filter((one) => one.number > number);
    this.keep();
  }

  add(what, row, value) {
    const last = this.waiting.at(-1)?.number ?? 0;
    this.waiting.push({ number: Math.max(Date.now(), last + 1), what, row, value });
    this.keep();
  }

  keep() {
    try {
      const open = this.waiting.filter((one) => !PRIVATE.includes(one.what));
      if (open.length) sessionStorage.setItem(this.place, JSON.stringify(open));
      else sessionStorage.removeItem(this.place);
    } catch {
      // Without storage only a page that is loaded again loses what was not answered.
    }
  }
}

function choices(data, say) {
  if (!data.choices.length) return null;
  const one = (choice) =>
    make("label", {},
      make("input", {
        type: "radio", name: "choice", value: choice.value, checked: choice.chosen,
        "data-place": `choice ${choice.value}`,
      }),
      make("b", {}, choice.label), make("small", {}, choice.told));
  const box = make("fieldset", {},
    make("legend", { class: "hidden" }, "What everybody does"),
    make("div", { class: "choices" }, ...data.choices.map(one)));
  box.onchange = ({ target }) => say("choice", "", target.value);
  return box;
}

function waves(data, say) {
  if (!data.waves.length) return null;
  const one = (asked) => {
    const select = make("select", { "aria-label": asked.label, "data-place": `waves ${asked.start}` },
      ...asked.options.map((label, number) =>
        make("option", { value: number, selected: number === asked.chosen }, label)));
    select.onchange = () => say("waves", String(asked.start), select.value);
    return select;
  };
  return make("div", { class: "waves" }, ...data.waves.map(one));
}

function typed(place, label, value, more, say, what, code) {
  const field = make("input", {
    type: "text", "aria-label": label, "data-place": place, autocomplete: "off", value, ...more,
  });
  field.onfocus = () => field.select();
  // No "change" comes of what was put back into a field that was drawn anew.
  let known = value;
  field.onblur = () => {
    const now = field.value.trim();
    if (now === known || !field.isConnected) return;
    known = now;
    say(what, code, now);
  };
  field.onkeydown = ({ key }) => {
    if (key === "Enter") field.blur();
    if (key === "Escape") field.value = value;
  };
  return field;
}

function under(row, say) {
  const children = [];
  if (row.reason !== null)
    children.push(make("label", {}, "why? ", typed(`reason ${row.code}`, `Why ${row.name} does otherwise; ${row.reason_hint}`,
      row.reason, { maxlength: 160, placeholder: row.reason_hint }, say, "reason", row.code)));
  if (row.reset) {
    const reset = make("button", { type: "button", class: "reset", "data-place": `reset ${row.code}` }, row.reset);
    reset.onclick = () => say("reset", row.code, "");
    children.push(reset);
  }
  if (row.chips.length) children.push(make("span", { class: "of" }, "why?"));
  for (const chip of row.chips) {
    const button = make("button", {
      type: "button", class: "chip", "aria-pressed": String(chip.chosen), "data-place": `chip ${chip.value} ${row.code}`,
    }, chip.label);
    button.onclick = () => say("why", row.code, chip.chosen ? "" : chip.value);
    children.push(button);
  }
  if (row.error) children.push(make("p", { class: "error", role: "alert" }, row.error));
  for (const doubt of row.doubts) {
    const sure = make("button", {
      type: "button", class: "reset", "data-place": `sure ${doubt.what} ${row.code}`,
    }, doubt.sure);
    sure.onclick = () => say("sure", row.code, doubt.what);
    children.push(make("p", { class: "error", role: "alert" }, doubt.sentence), sure);
  }
  return make("div", { class: "under" }, ...children);
}

function drawn(row, data, unfolded, say) {
  const tick = make("input", {
    type: "checkbox", checked: row.ticked, "aria-label": row.tick_label, "data-place": `tick ${row.code}`,
  });
  tick.onchange = () => say("tick", row.code, tick.checked);
  const more = make("div", { class: "more", hidden: !unfolded.has(row.code), id: `more-${row.code}` },
    ...row.more.map((sentence) => make("p", {}, sentence)),
    make("a", { href: row.link, target: "_self" }, `${row.name}'s curve`));
  const name = make("button", {
    type: "button", class: "name", "aria-expanded": String(!more.hidden), "aria-controls": more.id,
    "data-place": `name ${row.code}`,
  }, row.name);
  name.onclick = () => {
    more.hidden = !more.hidden;
    name.setAttribute("aria-expanded", String(!more.hidden));
    unfolded[more.hidden ? "delete" : "add"](row.code);
  };
  const number = row.number === null ? make("span", { class: "number" }, "\u2013")
    : typed(`number ${row.code}`, row.number_label, row.number,
      { class: row.own ? "number own" : "number", inputmode: "decimal", maxlength: 8 }, say, "number", row.code);
  const value = row.value === null ? null
    : typed(`value ${row.code}`, row.value_label, row.value,
      { class: "value", inputmode: "decimal", maxlength: 10, placeholder: " " }, say, "value", row.code);
  const why = make("span", { class: "why" }, row.hollow ? mark("unknown") : null,
    row.lost ? make("b", {}, row.lost) : null, row.lost ? " " : null, row.why,
    row.told ? make("b", { class: "set" }, `${row.why || row.lost ? ". " : ""}${row.told}`) : null);
  if (row.hollow) why.classList.add("unknown");
  return make("li", { class: row.number === null ? "away" : "" },
    make("div", { class: "row" },
      make("label", { class: "tick" }, tick),
      row.at === null ? null : make("span", { class: "at" }, row.at || "\u2013"),
      name,
      make("span", { class: "numbers" }, number, row.of ? make("span", { class: "of" }, row.of) : null),
      value, why),
    under(row, say), more);
}

function group(one, place, data, unfolded, say) {
  const id = `group-${place}`;
  return make("section", { class: one.mark, "aria-labelledby": id },
    make("div", { class: "head" }, mark(one.mark), make("h2", { id }, one.title),
      make("p", {}, one.told, one.told && one.at ? " " : null, one.at ? make("b", {}, one.at) : null)),
    make("ul", { class: [one.compact && "compact", data.after && "after"].filter(Boolean).join(" ") },
      ...one.rows.map((row) => drawn(row, data, unfolded, say))));
}

// The server tells of the last file in every answer, and it is handed over once.
let handedOver = null;
function handOver(file) {
  if (!file || handedOver === file.number) return;
  handedOver = file.number;
  make("a", { href: file.address, download: "" }).click();
}

// The field that somebody is in stays theirs, with what they have typed and not finished.
function putBack(root, before) {
  const again = before && root.querySelector(`[data-place="${CSS.escape(before.place)}"]`);
  if (!again) return;
  again.focus({ preventScroll: true });
  if (before.unfinished !== null) again.value = before.unfinished;
}

function held(root) {
  const now = root.getRootNode().activeElement;
  if (!now?.dataset?.place || !root.contains(now)) return null;
  const unfinished = now.type === "text" && now.value !== now.defaultValue ? now.value : null;
  return { place: now.dataset.place, unfinished };
}

export default function today({ parentElement, data, setStateValue }) {
  const root = parentElement.querySelector(".today");
  if (root.key !== data.key) {
    root.key = data.key;
    root.said = new Said(data.key, data.answered);
    root.unfolded = new Set();
  }
  root.said.answer(data.answered);
  root.told ??= make("p", { role: "status" });

  const send = (patience = WAITING_MS) => {
    clearTimeout(root.waiting);
    if (!root.said.waiting.length) return;
    // A value that stays: the message of a button pressed right after it brings it along.
    const { key, session } = data;
    setStateValue("said", { key, session, sent: Date.now(), messages: root.said.waiting });
    root.waiting = setTimeout(() => {
      root.told.textContent = NO_ANSWER;
      send(2 * patience);
    }, patience);
  };
  const say = (what, row, value) => {
    root.said.add(what, row, value);
    send();
  };

  const shown = JSON.stringify(data);
  if (root.shown !== shown) {
    root.shown = shown;
    const before = held(root);
    for (const [name, colour] of Object.entries(data.colours)) root.style.setProperty(`--${name}`, colour);
    root.replaceChildren(...[
      choices(data, say), data.costs ? make("p", { class: "costs" }, data.costs) : null, waves(data, say),
      root.told, ...data.groups.map((one, place) => group(one, place, data, root.unfolded, say)),
    ].filter(Boolean));
    const free = data.focus && document.activeElement === document.body;
    putBack(root, before ?? (free ? { place: data.focus, unfinished: null } : null));
    handOver(data.file);
  }
  if (root.said.waiting.length) send();
  else {
    clearTimeout(root.waiting);
    root.told.textContent = "";
  }
  return () => clearTimeout(root.waiting);
}
