// The number stays in the field until the server has stored it: neither a lost network nor a page
// that is loaded again loses it.
const WAITING_MS = 4000;
const DRAFTS = "warmcurve keypad";
// A key does what a tap on the button that is seen does. Streamlit's own shortcuts would also press
// the button that was there before, until the page has run. A stop comes before whose turn it is.
const SHORTCUTS = {
  KeyE: [".st-key-test_stops", ".st-key-test_end"],
  KeyU: [".st-key-test_take_back"],
};

function pressShortcut(event) {
  const places = event.altKey && !event.ctrlKey && !event.metaKey && SHORTCUTS[event.code];
  if (!places) return;
  const buttons = places.flatMap((place) =>
    [...document.querySelectorAll(`${place} [data-testid=stButton] button`)]);
  const seen = buttons.find((button) => button.checkVisibility());
  if (!seen) return;
  event.preventDefault();
  seen.click();
}

function drafts() {
  try {
    return JSON.parse(sessionStorage.getItem(DRAFTS)) ?? {};
  } catch {
    return {};
  }
}

// One number a test: of the effort that comes next in it.
function keepDraft(session, effort, text) {
  const kept = drafts();
  if (text) kept[session] = { effort, text };
  else delete kept[session];
  try {
    sessionStorage.setItem(DRAFTS, JSON.stringify(kept));
  } catch {
    // Without storage a page that is loaded again begins with an empty field, as it always did.
  }
}

export default function keypad({ parentElement, data, setTriggerValue }) {
  const form = parentElement.querySelector("form");
  const field = form.querySelector("input");
  const told = form.querySelector("[role=status]");
  const question = form.querySelector(".question");
  const button = (key) => form.querySelector(`[data-key=${key}]`);
  const asked = `${data.session}/${data.effort}`;
  const isNew = form.dataset.asked !== asked;
  const isAnswered = Boolean(data.answered) && form.dataset.number === data.answered;
  // The same effort is asked for again: what was sent is not stored, and the next digit replaces it.
  const isRefused = isAnswered && !isNew && field.value.trim() === form.dataset.text;

  form.querySelector("label").textContent = data.label;
  field.placeholder = data.placeholder;
  button("accept").textContent = data.accept;
  if (isNew || isAnswered) {
    // Another effort is asked for: what was sent is stored.
    if (isNew && form.dataset.sent) keepDraft(...form.dataset.sent.split("/"), "");
    delete form.dataset.sent;
    delete form.dataset.number;
    told.textContent = "";
    clearTimeout(form.waiting);
  }
  if (isNew) {
    const draft = drafts()[data.session];
    field.value = draft?.effort === data.effort ? draft.text : "";
    if (field.value) told.textContent = data.kept;
  }
  // A test begins at the foot of a long form: whose turn it is stands at the head of the page.
  if (!form.dataset.asked) document.querySelector("[data-testid=stMain]")?.scrollTo(0, 0);
  form.dataset.asked = asked;

  const doubt = data.question;
  const asks = Boolean(doubt) && form.dataset.dismissed !== doubt.number;
  const appears = asks && question.hidden;
  question.hidden = !asks;
  form.querySelector(".keys").inert = asks || data.closed;
  if (asks) {
    field.value = doubt.typed;
    form.querySelector("#asked").textContent = doubt.text;
    button("sure").textContent = doubt.sure;
    button("again").textContent = doubt.again;
  }
  if (appears) button("again").focus({ preventScroll: true });
  else if (isNew && !data.closed) field.focus({ preventScroll: true });
  else if (isRefused && !asks) {
    field.focus({ preventScroll: true });
    field.select();
  }

  // Sent again until it is answered, more and more rarely: the same effort is stored once.
  const send = (sure, number = `${asked}/${Date.now()}`, patience = WAITING_MS) => {
    const text = field.value.trim();
    form.dataset.sent = asked;
    form.dataset.number = number;
    form.dataset.text = text;
    setTriggerValue("accepted",
      { text, session: data.session, effort: data.effort, sure, number });
    clearTimeout(form.waiting);
    form.waiting = setTimeout(() => {
      told.textContent = data.no_answer;
      if (field.value.trim() === text) send(sure, number, 2 * patience);
    }, patience);
  };
  const typed = (text) => {
    field.value = text;
    told.textContent = "";
    keepDraft(data.session, data.effort, text);
  };
  const typeAgain = () => {
    form.dataset.dismissed = doubt.number;
    question.hidden = true;
    form.querySelector(".keys").inert = data.closed;
    field.focus({ preventScroll: true });
    field.select();
  };

  form.onsubmit = (event) => {
    event.preventDefault();
    if (field.value.trim()) send(false);
    else told.textContent = "Type a number first.";
  };
  form.onclick = ({ target }) => {
    const key = target.dataset?.key;
    if (!key || key === "accept") return;
    const before = field.selectionStart < field.selectionEnd ? "" : field.value;
    if (key === "sure") send(true);
    else if (key === "again") typeAgain();
    else if (key === "back") typed(before.slice(0, -1));
    else if (key !== "." || !/[.,]/.test(before)) typed(before + key);
  };
  field.oninput = () => typed(field.value);
  form.onkeydown = (event) => {
    if (event.key !== "Escape") return;
    if (question.hidden) typed("");
    else typeAgain();
  };
  // The same function again and again is one listener.
  document.addEventListener("keydown", pressShortcut);
  return () => {
    clearTimeout(form.waiting);
    document.removeEventListener("keydown", pressShortcut);
  };
}
