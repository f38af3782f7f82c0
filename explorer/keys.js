// Ctrl+Z and Ctrl+Shift+Z or Ctrl+Y (on a Mac with the command key) anywhere but in a field, which has its own.

const EDITABLE = ["INPUT", "TEXTAREA", "SELECT"];
const SWITCHES = ["checkbox", "radio", "range", "button", "file"]; // inputs that nothing is typed into

function typesInto(element) {
  if (!element || !element.tagName) return false;
  if (element.isContentEditable) return true;
  return EDITABLE.includes(element.tagName) && !SWITCHES.includes(element.type);
}

function meant(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return "";
  const key = event.key.toLowerCase();
  if (key === "z") return event.shiftKey ? "redo" : "undo";
  return key === "y" && !event.shiftKey ? "redo" : "";
}

export default function ({ setTriggerValue }) {
  const press = (event) => {
    const step = meant(event);
    if (!step || event.defaultPrevented || typesInto(event.composedPath()[0])) return;
    event.preventDefault();
    setTriggerValue("pressed", step);
  };
  document.addEventListener("keydown", press);
  return () => document.removeEventListener("keydown", press);
}
