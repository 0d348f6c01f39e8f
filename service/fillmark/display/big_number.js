/**
 * The big number, as large as its place allows. Its digits stand at least an eighth of the screen high, measured on the
 * digits themselves, for fonts differ. What is too wide for that first gives its unit a line of its own, then it is
 * drawn narrower.
 */

/** Height of a digit against the screen: the least, and what looks well where there is room. */
const LEAST = 0.127;
const MOST_WIDE = 0.165;
const MOST_NARROW = 0.15;
/** Share of its own width below which a digit is no longer read at a glance; then it gets smaller instead. */
const NARROWEST = 0.66;
/** As in the style sheet: the unit against the digits, and the space between digits, em. */
const UNIT = 0.4;
const SPACING = -0.03;
/** Share of the width of a wide screen that the number may take beside its doubt and age. */
const SHARE = 0.62;
const NARROW_PX = 600;
const PROBE_PX = 100;

const brush = /** @type {CanvasRenderingContext2D} */ (document.createElement("canvas").getContext("2d"));

/**
 * @param {HTMLElement} head holds the figure with its digits and unit, and what qualifies them
 */
export function fitNumber(head) {
  const digits = /** @type {HTMLElement} */ (head.querySelector(".digits"));
  const unit = /** @type {HTMLElement} */ (head.querySelector(".unit"));
  const { height, wide, unitWide } = measured(digits, unit.textContent ?? "");
  const narrow = innerWidth < NARROW_PX;
  const room = head.clientWidth * (narrow ? 1 : SHARE);
  const key = [wide, unitWide, room, innerHeight].join(" ");
  if (room === 0 || head.dataset.fitted === key) return;
  head.dataset.fitted = key;
  const least = (LEAST * innerHeight) / height;
  const most = ((narrow ? MOST_NARROW : MOST_WIDE) * innerHeight) / height;
  const below = narrow && room / (wide + unitWide) < least;
  const unitBeside = below ? 0 : unitWide;
  const narrowed = room / (wide * NARROWEST + unitBeside);
  const size = Math.max(Math.min(most, room / (wide + unitBeside)), Math.min(least, narrowed));
  const squeeze = Math.min((room - unitBeside * size) / (wide * size), 1);
  head.dataset.unit = below ? "below" : "beside";
  digits.style.fontSize = `${size}px`;
  digits.style.transform = squeeze < 1 ? `scaleX(${squeeze})` : "";
  digits.style.marginInlineEnd = `${(squeeze - 1) * wide * size}px`;
  unit.style.fontSize = below ? "" : `${size * UNIT}px`;
}

/**
 * Widths and height of digits and unit, in em. All digits count as noughts: the number must not jump while it counts.
 * @param {HTMLElement} digits
 * @param {string} unit
 */
function measured(digits, unit) {
  const { fontWeight, fontFamily } = getComputedStyle(digits);
  const text = (digits.textContent ?? "").replace(/\d/g, "0");
  brush.font = `${fontWeight} ${PROBE_PX}px ${fontFamily}`;
  const height = brush.measureText("0").actualBoundingBoxAscent / PROBE_PX;
  const wide = brush.measureText(text).width / PROBE_PX + SPACING * text.length;
  const unitWide = UNIT * (brush.measureText(unit).width / PROBE_PX + 0.4);
  return { height, wide, unitWide };
}
