// For whoever goes by keyboard: a way past the menu, the first thing that Tab comes to on any page, and a stop at
// whatever scrolls by itself, such as a wide table on a narrow screen.
const NAME = "wedgefront-skip";
const SCROLLING = '[data-testid="stTable"] > div, [data-testid="stVerticalBlock"][overflow="auto"]';

const wayPast = () => {
  const main = document.querySelector('[data-testid="stMain"]');
  if (!main) return;
  main.id = "wedgefront-page";
  main.tabIndex = -1;
  if (document.getElementById(NAME)) return;
  const link = document.createElement("a");
  link.id = NAME;
  link.href = `#${main.id}`;
  link.textContent = "Skip to the page";
  link.addEventListener("click", (event) => {
    event.preventDefault(); // an address with a mark would be another one to the server
    document.getElementById("wedgefront-page")?.focus();
  });
  document.body.prepend(link);
};

const stops = () => {
  for (const each of document.querySelectorAll(SCROLLING)) {
    if (each.scrollWidth > each.clientWidth || each.scrollHeight > each.clientHeight) each.tabIndex = 0;
    else each.removeAttribute("tabindex");
  }
};

// The buttons over a chart are called by all that it tells; its name is enough.
const shortNames = () => {
  for (const each of document.querySelectorAll('[data-testid="stElementToolbar"] button[aria-label]')) {
    const name = each.ariaLabel.match(/^[^:]+: .*?(?=: |\. |$)/);
    if (name && name[0] !== each.ariaLabel) each.ariaLabel = name[0];
  }
};

const look = () => {
  stops();
  shortNames();
};

export default function () {
  wayPast();
  look();
  if (window.wedgefrontWatched) return;
  window.wedgefrontWatched = true;
  let due = 0;
  const later = () => {
    cancelAnimationFrame(due);
    due = requestAnimationFrame(look);
  };
  new MutationObserver(later).observe(document.body, { childList: true, subtree: true });
  window.addEventListener("resize", later);
}
