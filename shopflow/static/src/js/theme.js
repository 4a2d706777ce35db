// Colours come from the style sheet alone.
export function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}


// Canvases do not wait for a font by themselves: they would draw in whatever is there.
export const NUMBERS = "'Plex Mono', monospace";

export function numbersReady() {
  return Promise.all(["400", "600"].map((weight) => document.fonts.load(`${weight} 12px 'Plex Mono'`)));
}

// After the frame: a size changed inside the observer's own call is reported as an error by browsers.
export function whenResized(box, act) {
  new ResizeObserver(() => requestAnimationFrame(act)).observe(box);
}
