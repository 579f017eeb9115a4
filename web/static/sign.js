// A finger signs on a field of the form; its strokes go along in thousandths of the field's width, so that any screen
// and the paper draw the same.
import SignaturePad from "./vendor/signature_pad/signature_pad.js";
import { WORDS } from "./words.js";

const field = document.querySelector("[data-sign]");
const form = field?.closest("form");
const canvas = field?.querySelector("canvas");

if (canvas) {
  field.hidden = false;
  const pad = new SignaturePad(canvas, { penColor: getComputedStyle(canvas).color });

  // The canvas has as many dots as the screen; what was signed is drawn again when it turns.
  const fit = () => {
    const ratio = Math.max(devicePixelRatio || 1, 1);
    const strokes = pad.toData();
    canvas.width = canvas.offsetWidth * ratio;
    canvas.height = canvas.offsetHeight * ratio;
    canvas.getContext("2d").scale(ratio, ratio);
    pad.fromData(strokes);
  };
  const keep = () => { form.elements.signature.value = pad.isEmpty() ? "" : JSON.stringify(drawn()); };
  const drawn = () => {
    const scale = 1000 / canvas.offsetWidth;
    const height = Math.min(1000, Math.max(1, Math.round(canvas.offsetHeight * scale)));
    const within = (value, most) => Math.min(most, Math.max(0, Math.round(value * scale)));
    return { height, strokes: pad.toData().map(({ points }) => points.map(({ x, y }) => [within(x, 1000), within(y, height)])) };
  };

  // Where there are accounts a name that was typed proves nothing by itself.
  const { name, pin, signature } = form.elements;
  const ask = () => name?.setCustomValidity(pin && !signature.value && !pin.value ? WORDS.notSigned : "");
  pin?.addEventListener("input", ask);

  fit();
  ask();
  addEventListener("resize", fit);
  pad.addEventListener("endStroke", () => { keep(); ask(); });
  field.querySelector("[data-clear]").addEventListener("click", () => { pad.clear(); keep(); ask(); });
}
