// Opens what a word means: beside a link to it, or beside the question mark of a field whose container names it.
// One handler for the whole document, so that what a page draws anew needs no care.

const EDGE = 12; // px kept free at the window's edges

const termOf = (target, mark, words) => {
  const link = target.closest(`a[href^="${mark}"]`);
  if (link) return [link, link.getAttribute("href").slice(mark.length)];
  const icon = target.closest('[data-testid="stTooltipIcon"]');
  const field = icon && icon.closest('[class*="word-"]');
  const named = field && [...field.classList].map((name) => name.match(/word-(.+?)--/)).find(Boolean);
  return named && named[1] in words ? [icon, named[1]] : [null, ""];
};

function fill(box, [name, meaning, source]) {
  box.replaceChildren();
  for (const [tag, text] of [["h2", name], ["p", meaning], ["small", source]])
    if (text) box.appendChild(Object.assign(document.createElement(tag), { textContent: text }));
  box.querySelector("h2").id = "name";
}

function beside(box, anchor) {
  const at = anchor.getBoundingClientRect();
  const { offsetWidth: wide, offsetHeight: high } = box;
  const left = Math.min(Math.max(EDGE, at.left), window.innerWidth - wide - EDGE);
  const below = at.bottom + 6 + high + EDGE <= window.innerHeight;
  box.style.left = `${Math.max(EDGE, left)}px`;
  box.style.top = `${Math.max(EDGE, below ? at.bottom + 6 : at.top - high - 6)}px`;
}

export default function ({ parentElement, data }) {
  const box = parentElement.querySelector(".word");
  const open = (event) => {
    const target = event.target instanceof Element ? event.target : null;
    const [anchor, key] = target ? termOf(target, data.mark, data.words) : [null, ""];
    if (!anchor || !(key in data.words)) return;
    event.preventDefault();
    event.stopPropagation();
    fill(box, data.words[key]);
    box.showPopover();
    beside(box, anchor);
  };
  document.addEventListener("click", open, true); // a button's and a link's Enter as well
  return () => document.removeEventListener("click", open, true);
}
