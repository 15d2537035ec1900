// Dragging on a plan: what is dragged writes its number fields; the server draws anew from them.
(() => {
  "use strict";
  const STEP_MM = 10, FAR_MM = 100, SETTLES_MS = 350;
  const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
  const EIGHTHS = ["", " 1/8", " 1/4", " 3/8", " 1/2", " 5/8", " 3/4", " 7/8"];
  let held = "";  // the grip that had the focus before the drawing was renewed
  let drag = null, pressed = null, settling = 0;

  const numbers = (text) => text.split(" ").map(Number);
  const formOf = (element) => element.closest("form");

  // Lengths go into fields as the units of the job have them; the server reads them again.
  function written(mm, form) {
    if (form.dataset.units !== "imperial") return String(Math.round(mm));
    const eighths = Math.round(Math.abs(mm) / 25.4 * 8);
    return `${mm < 0 && eighths ? "-" : ""}${Math.floor(eighths / 8)}${EIGHTHS[eighths % 8]}"`;
  }

  function write(form, names, values, settle = true) {
    const fields = names.map((name) => form.elements[name]).filter(Boolean);
    fields.forEach((field, at) => { field.value = form.dataset.units && !field.dataset.pixel ? written(values[at], form) : String(Math.round(values[at])); });
    clearTimeout(settling);
    if (settle && fields.length) settling = setTimeout(() => fields[0].dispatchEvent(new Event("change", { bubbles: true })), SETTLES_MS);
  }

  function onDrawing(svg, event) {
    const spot = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return [spot.x, spot.y];
  }

  function mapped(svg, x, y, turned = false) {
    const [a, b, c, d, e, f] = numbers(svg.dataset.toField);
    return [a * x + c * y + (turned ? 0 : e), b * x + d * y + (turned ? 0 : f)];
  }

  function unmapped(svg, dx, dy) {
    const [a, b, c, d] = numbers(svg.dataset.toField), whole = a * d - b * c;
    return [(d * dx - c * dy) / whole, (a * dy - b * dx) / whole];
  }

  function moveTo(grip, values, shift) {
    const form = formOf(grip);
    const least = grip.dataset.key.startsWith("size") ? 1 : -Infinity;
    const kept = values.map((value) => Math.max(least, value));
    grip.setAttribute("transform", `translate(${shift[0]} ${shift[1]})`);
    held = grip.dataset.key;
    return write(form, [grip.dataset.x, grip.dataset.y], kept);
  }

  document.addEventListener("pointerdown", (event) => {
    const svg = event.target.closest("svg[data-to-field]"), photo = event.target.closest("img[data-photo]");
    if (pressed && (svg || photo)) {
      event.preventDefault();
      if (pressed.dataset.draw && svg) drag = { svg, from: onDrawing(svg, event), drawing: true };
      else if (pressed.dataset.place && svg) place(formOf(pressed), mapped(svg, ...onDrawing(svg, event)));
      else if (pressed.dataset.photo && photo) place(formOf(pressed), onPhoto(photo, event));
      return;
    }
    const grip = event.target.closest(".grip");
    if (!grip || event.button) return;
    event.preventDefault();
    grip.focus();
    grip.setPointerCapture(event.pointerId);
    drag = { svg, grip, from: onDrawing(svg, event), at: numbers(grip.dataset.at) };
  });

  document.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const now = onDrawing(drag.svg, event), shift = [now[0] - drag.from[0], now[1] - drag.from[1]];
    if (drag.drawing) { outline(drag.svg, drag.from, now); return; }
    drag.grip.setAttribute("transform", `translate(${shift[0]} ${shift[1]})`);
    drag.shift = shift;
  });

  document.addEventListener("pointerup", (event) => {
    if (!drag) return;
    const { svg, grip, from, at, shift, drawing } = drag;
    drag = null;
    if (drawing) { drawn(svg, from, onDrawing(svg, event)); return; }
    if (!shift) return;
    const by = mapped(svg, shift[0], shift[1], true);
    moveTo(grip, [at[0] + by[0], at[1] + by[1]], shift);
  });
  document.addEventListener("pointercancel", () => { drag = null; });

  document.addEventListener("keydown", (event) => {
    const grip = event.target.closest && event.target.closest(".grip"), way = ARROWS[event.key];
    if (event.key === "Escape" && pressed) press(null);
    if (!grip || !way) return;
    event.preventDefault();
    const step = event.shiftKey ? FAR_MM : STEP_MM, svg = grip.closest("svg");
    const moved = numbers(grip.dataset.moved || "0 0");
    const by = [moved[0] + way[0] * step, moved[1] + way[1] * step], at = numbers(grip.dataset.at);
    grip.dataset.moved = by.join(" ");
    moveTo(grip, [at[0] + by[0], at[1] + by[1]], unmapped(svg, ...by));
  });

  // A button that waits for the next touch on the plan or the photo.
  function press(button) {
    document.querySelectorAll("[aria-pressed]").forEach((each) => each.setAttribute("aria-pressed", String(each === button)));
    pressed = button;
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("[aria-pressed]");
    if (button) press(button === pressed ? null : button);
  });

  function place(form, values) {
    write(form, [pressed.dataset.x, pressed.dataset.y], values);
    press(null);
  }

  function onPhoto(photo, event) {
    const box = photo.getBoundingClientRect();
    return [(event.clientX - box.left) / box.width * photo.naturalWidth, (event.clientY - box.top) / box.height * photo.naturalHeight];
  }

  function outline(svg, from, to) {
    let box = svg.querySelector(".drawing");
    if (!box) {
      box = document.createElementNS(svg.namespaceURI, "rect");
      box.setAttribute("class", "drawing");
      svg.append(box);
    }
    box.setAttribute("x", Math.min(from[0], to[0]));
    box.setAttribute("y", Math.min(from[1], to[1]));
    box.setAttribute("width", Math.abs(to[0] - from[0]));
    box.setAttribute("height", Math.abs(to[1] - from[1]));
  }

  // A new shape goes into the first row that is still empty.
  function drawn(svg, from, to) {
    const form = formOf(pressed), prefix = pressed.dataset.draw;
    const ends = [mapped(svg, ...from), mapped(svg, ...to)];
    const low = [0, 1].map((axis) => Math.min(ends[0][axis], ends[1][axis]));
    const size = [0, 1].map((axis) => Math.abs(ends[0][axis] - ends[1][axis]));
    let row = 0;
    while (form.elements[`${prefix}-${row}-kind`] && form.elements[`${prefix}-${row}-kind`].value) row += 1;
    const kind = form.elements[`${prefix}-${row}-kind`];
    press(null);
    if (!kind || Math.min(...size) < STEP_MM) return;
    kind.value = "fixture";
    held = `move-${row}`;
    write(form, [`${prefix}-${row}-right`, `${prefix}-${row}-up`], low, false);
    write(form, [`${prefix}-${row}-width`, `${prefix}-${row}-depth`], size);
  }

  function ready() {
    document.querySelectorAll("[data-script]").forEach((each) => { each.hidden = false; });
    document.querySelectorAll("svg[data-to-field]").forEach((svg) => {
      if (!svg.querySelector(".grip")) return;
      svg.setAttribute("role", "group");
      svg.querySelectorAll(".grip").forEach((grip) => {
        grip.setAttribute("tabindex", "0");
        grip.setAttribute("role", "button");
        grip.setAttribute("aria-label", grip.dataset.label);
        if (grip.dataset.key === held && document.activeElement === document.body) grip.focus();
      });
    });
  }
  document.addEventListener("DOMContentLoaded", ready);
  document.addEventListener("htmx:afterSwap", ready);
})();
