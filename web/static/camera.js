// The live camera: every label in view is outlined in the colour and the word of its state; a tone tells each new one.
import { boxOf, Looks } from "./looks.js";
import { WORDS } from "./words.js";

const WIDTH_PX = 1920; // a trial read nothing at 640 x 480: ask for much, and tell the rep where the camera gives little
const LEAST_PX = 1280;
const STATES = {
  counted: ["#5cf08f", WORDS.here], already: ["#9dc2ff", WORDS.already], known: ["#5cf08f", WORDS.here],
  extra: ["#e5a6ff", WORDS.seen], doubt: ["#ffd23f", WORDS.again], unread: ["#ff9d8f", WORDS.closer],
  sent: ["#ffd23f", WORDS.asked], unsure: ["#ffd23f", WORDS.closer],
};
const CROP_MARGIN = 0.06; // the quiet zones are in the region already
const LOCATE_MS = 400; // how often the picture is searched for bars that were not read

// Opens the camera in this dialog. onCode(text, match) hears each new code once; onCrop(blob) is asked what each label
// is that stays unread, and gives {carton, sound}, or null where it cannot be said now.
export async function openCamera(dialog, { sheet, onCode, onAlready, onCrop, progress }) {
  const video = dialog.querySelector("video");
  const shown = dialog.querySelector("canvas");
  const line = dialog.querySelector("#camera-line");
  let stream;
  dialog.showModal();
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: false, video: { facingMode: { ideal: "environment" }, width: { ideal: WIDTH_PX }, height: { ideal: 1080 } },
    });
  } catch (fault) {
    line.textContent = WORDS.cameraRefused(fault.name);
    return;
  }
  video.srcObject = stream;
  await video.play();
  const [track] = stream.getVideoTracks();
  showControls(dialog, track);
  const looks = new Looks(sheet());
  const worker = new Worker(new URL("./decoder.js", import.meta.url));
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("2d", { willReadFrequently: true });
  let number = 0;
  let located_ms = 0;
  let open = true;

  function next() {
    if (!open) return;
    if (!video.videoWidth || document.visibilityState !== "visible") { setTimeout(next, 200); return; }
    canvas.width = video.videoWidth;
    canvas.height = video.videoHeight;
    context.drawImage(video, 0, 0);
    const picture = context.getImageData(0, 0, canvas.width, canvas.height);
    const locate = performance.now() - located_ms > LOCATE_MS;
    if (locate) located_ms = performance.now();
    worker.postMessage({ picture, number: ++number, locate }, [picture.data.buffer]);
  }

  worker.addEventListener("message", ({ data }) => {
    if (!open) return;
    if (data.found) show(data.found, data.bars, performance.now());
    (video.requestVideoFrameCallback?.bind(video) ?? requestAnimationFrame)(next);
  });

  function show(found, bars, now) {
    looks.sheet = sheet();
    const read = found.filter(({ text }) => text);
    const drawn = read.map(({ text, corners }) => {
      const { state, match } = looks.look(text, now);
      if (state === "counted") onCode(text, match);
      if (state === "already") onAlready(match);
      return { corners, state: state !== "doubt" && !match ? "extra" : state, label: match?.carton ?? "" };
    });
    const due = bars && looks.unread([...found.filter(({ text }) => !text).map(({ corners }) => corners), ...bars], read.map(({ corners }) => corners), now);
    draw(shown, canvas, [...drawn, ...looks.tracks.map(asTold)]);
    if (due) {
      cut(canvas, due.corners).then(onCrop).then((answer) => { due.answer = answer ?? { carton: "", sound: "" }; });
    }
    const small = canvas.width < LEAST_PX && canvas.height < LEAST_PX;
    line.textContent = [progress(), small && WORDS.cameraSmall].filter(Boolean).join(" · ");
    dialog.dataset.frames = String(number);
  }

  dialog.addEventListener("close", () => {
    open = false;
    worker.terminate();
    for (const each of stream.getTracks()) each.stop();
    video.srcObject = null;
  }, { once: true });
  next();
}

// How a label that the phone did not read is outlined: by what the service said of its picture.
function asTold({ corners, sent, answer }) {
  if (!sent) return { corners, state: "unread", label: "" };
  if (!answer) return { corners, state: "sent", label: "" };
  const state = answer.sound === "already" ? "already" : answer.carton ? "known" : answer.sound === "extra" ? "extra" : "unsure";
  return { corners, state, label: answer.carton };
}

function draw(shown, canvas, outlines) {
  if (shown.width !== canvas.width) Object.assign(shown, { width: canvas.width, height: canvas.height });
  const context = shown.getContext("2d");
  context.clearRect(0, 0, shown.width, shown.height);
  context.lineWidth = canvas.width / 240;
  context.font = `bold ${Math.round(canvas.width / 36)}px system-ui, sans-serif`;
  for (const { corners, state, label } of outlines) {
    const [colour, word] = STATES[state];
    context.strokeStyle = colour;
    context.beginPath();
    for (const [x, y] of corners) context.lineTo(x, y);
    context.closePath();
    context.stroke();
    const { left, top } = boxOf(corners);
    const text = label ? `${label} · ${word}` : word;
    const at = Math.max(top - 8, canvas.width / 36);
    context.strokeStyle = "#000";
    context.strokeText(text, left, at);
    context.fillStyle = colour;
    context.fillText(text, left, at);
  }
}

// The smallest picture that holds the label with some of its surroundings, as the service's own reading wants it.
function cut(canvas, corners) {
  const { left, top, right, bottom } = boxOf(corners);
  const margin = CROP_MARGIN * Math.max(right - left, bottom - top);
  const x = Math.max(0, left - margin);
  const y = Math.max(0, top - margin);
  const width = Math.min(canvas.width - x, right - left + 2 * margin);
  const height = Math.min(canvas.height - y, bottom - top + 2 * margin);
  const piece = document.createElement("canvas");
  Object.assign(piece, { width: Math.ceil(width), height: Math.ceil(height) });
  piece.getContext("2d").drawImage(canvas, x, y, width, height, 0, 0, width, height);
  return new Promise((resolve) => piece.toBlob(resolve, "image/jpeg", 0.92));
}

// Torch and zoom, where the camera has them (W3C MediaStream Image Capture).
function showControls(dialog, track) {
  const can = track.getCapabilities?.() ?? {};
  const torch = dialog.querySelector("#torch");
  const zoom = dialog.querySelector("#zoom-in");
  torch.hidden = !can.torch;
  torch.onclick = () => {
    const lit = torch.getAttribute("aria-pressed") !== "true";
    track.applyConstraints({ advanced: [{ torch: lit }] }).then(() => torch.setAttribute("aria-pressed", String(lit)), () => {});
  };
  zoom.parentElement.hidden = !can.zoom;
  if (can.zoom) {
    Object.assign(zoom, { min: can.zoom.min, max: Math.min(can.zoom.max, can.zoom.min * 8), step: "any", value: track.getSettings().zoom ?? can.zoom.min });
    zoom.oninput = () => track.applyConstraints({ advanced: [{ zoom: Number(zoom.value) }] }).catch(() => {});
  }
}
