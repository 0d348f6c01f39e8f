/** One board at a time beside the live numbers: what to do, stop points, readings, record. On a phone also instead of them. */
import { byId, put } from "./dom.js";
import { t } from "./i18n.js";

const BOARDS = ["act", "stops", "read", "record"];
/** From here on the live numbers have a column of their own. */
const WIDE = "(min-width: 900px)";

export class Boards {
  /** @param {() => void} changed called after another board is shown: drawings have another size */
  constructor(changed) {
    this.wide = matchMedia(WIDE);
    this.chosen = "live";
    for (const button of byId("boards").querySelectorAll("button")) {
      button.addEventListener("click", () => {
        this.choose(button.dataset.to);
        changed();
      });
    }
    this.wide.addEventListener("change", () => {
      this.show();
      changed();
    });
    this.show();
  }

  /** @param {string} board */
  choose(board) {
    this.chosen = board;
    this.show();
    if (!this.wide.matches) scrollTo(0, 0);
  }

  show() {
    const shown = this.wide.matches && this.chosen === "live" ? "act" : this.chosen;
    document.documentElement.dataset.board = shown;
    byId("live").hidden = !this.wide.matches && shown !== "live";
    for (const board of BOARDS) byId(`board-${board}`).hidden = board !== shown;
    for (const button of byId("boards").querySelectorAll("button")) {
      if (button.dataset.to === shown) button.setAttribute("aria-current", "true");
      else button.removeAttribute("aria-current");
    }
  }

  /**
   * How many stop points nobody has acknowledged yet, said on the button that leads to them.
   * @param {number} count
   */
  count(count) {
    put(byId("stops-count"), count === 0 ? "" : t("{n} new", { n: count }));
  }
}
