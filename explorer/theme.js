// Tells Python when the page's paper has become light or dark and was drawn on as the other.

const DARK_BELOW = 384; // of the sum of red, green and blue, 0 to 765

const isDark = (paper) => {
  const [red, green, blue] = getComputedStyle(paper).backgroundColor.match(/[\d.]+/g).map(Number);
  return red + green + blue < DARK_BELOW;
};

export default function ({ parentElement, data, setTriggerValue }) {
  const paper = parentElement.querySelector(".paper");
  const look = () => isDark(paper) !== data.dark && setTriggerValue("changed", true);
  paper.addEventListener("transitionend", look);
  return () => paper.removeEventListener("transitionend", look);
}
