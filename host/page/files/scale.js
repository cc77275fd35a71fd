// Whether places on this page are true places on the board.

const ASPECT = 0.005;

// What speaks against it, in words; empty where nothing does. `seen` is what a window says of
// itself: innerWidth, innerHeight, screenWidth, screenHeight, zoom, offset.
export function doubts(image, seen) {
  const found = [];
  const full = Math.abs(seen.innerWidth - seen.screenWidth) <= 1
    && Math.abs(seen.innerHeight - seen.screenHeight) <= 1;
  if (!full) found.push('this window does not fill the screen: press f');
  if (Math.abs(seen.zoom - 1) > 0.001 || seen.offset > 0.5) found.push('this page is zoomed: press Ctrl and 0');
  if (image) {
    const window = seen.innerWidth / seen.innerHeight;
    const job = image.width_mm / image.height_mm;
    if (Math.abs(window / job - 1) > ASPECT) {
      found.push(`the screen is ${ratio(window)} and the job's image ${ratio(job)}: set the display to the job's aspect`);
    }
  }
  return found;
}

function ratio(value) {
  return `${value.toFixed(2)} times as wide as high`;
}

export function seenNow() {
  const view = window.visualViewport;
  return {
    innerWidth,
    innerHeight,
    screenWidth: screen.width,
    screenHeight: screen.height,
    zoom: view ? view.scale : 1,
    offset: view ? Math.max(Math.abs(view.offsetLeft), Math.abs(view.offsetTop)) : 0,
  };
}
