// @ts-check
/* The script of the lesson page: app.js starts it once the device has said whether it can store taps. */
import * as numberpad from "./numberpad.js";
import * as refusals from "./refusals.js";
import * as taps from "./taps.js";

export { showConnection } from "./taps.js";

/** Start the keys of the page. Returns what says whether a form must wait for taps; null where no lesson is written. */
export async function start() {
  const mustWait = await taps.start();
  refusals.start();
  numberpad.start(mustWait ? taps.noteLater : () => {});
  return mustWait;
}
