// Colours come from the style sheet alone.
export function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

export function wantsStill() {
  return matchMedia("(prefers-reduced-motion: reduce)").matches;
}
