// @ts-check
/* Draws a signature on the tablet. Who does not draw signs without it; without this file its place is not shown. */
(() => {
  "use strict";
  const WIDTH = 600,
    HEIGHT = 200,
    LINES = 60,
    POINTS = 2900;

  /** @typedef {[number, number]} Point */
  /** @param {HTMLElement} place */
  const begin = (place) => {
    const canvas = /** @type {HTMLCanvasElement} */ (place.querySelector("canvas"));
    const kept = /** @type {HTMLInputElement} */ (place.querySelector("input[name=drawn]"));
    const clear = /** @type {HTMLButtonElement} */ (place.querySelector("[data-clear]"));
    const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    /** @type {Point[][]} */
    let lines = [];
    /** @type {number|null} */
    let now = null;

    /**
     * @param {PointerEvent} event
     * @returns {Point}
     */
    const at = (event) => {
      const box = canvas.getBoundingClientRect();
      const part = (/** @type {number} */ value, /** @type {number} */ most) =>
        Math.max(0, Math.min(most, Math.round(value * most)));
      return [
        part((event.clientX - box.left) / box.width, WIDTH),
        part((event.clientY - box.top) / box.height, HEIGHT),
      ];
    };
    const draw = () => {
      const scale = canvas.width / WIDTH;
      pen.setTransform(scale, 0, 0, scale, 0, 0);
      pen.clearRect(0, 0, WIDTH, HEIGHT);
      pen.strokeStyle = getComputedStyle(canvas).color;
      pen.lineWidth = 4;
      pen.lineCap = pen.lineJoin = "round";
      pen.beginPath();
      for (const line of lines) {
        pen.moveTo(...line[0]);
        if (line.length === 1) pen.lineTo(line[0][0] + 0.1, line[0][1]);
        for (const point of line.slice(1)) pen.lineTo(...point);
      }
      pen.stroke();
      kept.value = lines.length ? JSON.stringify(lines) : "";
      clear.disabled = !lines.length;
    };
    const size = () => {
      canvas.width = Math.round(canvas.clientWidth * (window.devicePixelRatio || 1));
      canvas.height = Math.round((canvas.width * HEIGHT) / WIDTH);
      draw();
    };
    const count = () => lines.reduce((sum, line) => sum + line.length, 0);

    canvas.addEventListener("pointerdown", (event) => {
      if (now !== null || event.button !== 0 || lines.length >= LINES || count() >= POINTS) return;
      now = event.pointerId;
      canvas.setPointerCapture(now);
      lines.push([at(event)]);
      event.preventDefault();
      draw();
    });
    canvas.addEventListener("pointermove", (event) => {
      if (event.pointerId !== now || count() >= POINTS) return;
      const line = lines[lines.length - 1],
        last = line[line.length - 1],
        point = at(event);
      if (Math.hypot(point[0] - last[0], point[1] - last[1]) < 3) return;
      line.push(point);
      draw();
    });
    const lift = (/** @type {PointerEvent} */ event) => {
      if (event.pointerId === now) now = null;
    };
    canvas.addEventListener("pointerup", lift);
    canvas.addEventListener("pointercancel", lift);
    clear.addEventListener("click", () => {
      lines = [];
      draw();
    });
    window.addEventListener("resize", size);

    try {
      lines = kept.value ? JSON.parse(kept.value) : [];
    } catch {
      lines = [];
    }
    place.hidden = false;
    size();
  };

  for (const place of document.querySelectorAll("[data-signature]")) begin(/** @type {HTMLElement} */ (place));
})();
