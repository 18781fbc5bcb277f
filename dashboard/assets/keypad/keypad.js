// The number stays in the field until the server has stored it: a lost network loses nothing.
const WAITING_MS = 4000;

export default function keypad({ parentElement, data, setTriggerValue }) {
  const form = parentElement.querySelector("form");
  const field = form.querySelector("input");
  const told = form.querySelector("[role=status]");
  const asked = `${data.session}/${data.effort}`;

  form.querySelector("label").textContent = data.label;
  field.placeholder = data.placeholder;
  form.querySelector("[data-key=accept]").textContent = data.accept;
  if (form.dataset.asked !== asked) {
    field.value = "";
    field.focus({ preventScroll: true });
  }
  if (form.dataset.asked !== asked || form.dataset.answer !== data.answer) {
    told.textContent = "";
    clearTimeout(form.waiting);
  }
  form.dataset.asked = asked;
  form.dataset.answer = data.answer;

  form.onsubmit = (event) => {
    event.preventDefault();
    const text = field.value.trim();
    if (!text) {
      told.textContent = "Type a number first.";
      return;
    }
    setTriggerValue("accepted", { text, session: data.session, effort: data.effort });
    clearTimeout(form.waiting);
    form.waiting = setTimeout(() => { told.textContent = data.no_answer; }, WAITING_MS);
  };
  form.onclick = ({ target }) => {
    const key = target.dataset?.key;
    if (!key || key === "accept") return;
    const before = field.value;
    if (key === "back") field.value = before.slice(0, -1);
    else if (key !== "." || !/[.,]/.test(before)) field.value = before + key;
    told.textContent = "";
  };
  field.onkeydown = (event) => {
    if (event.key === "Escape") field.value = "";
  };
  return () => clearTimeout(form.waiting);
}
