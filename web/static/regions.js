// Worker: where bars are in a picture, whether or not a decoder reads them. A block of the picture counts where its
// gradients are strong and point one way (structure tensor: Bigün and Granlund 1987); blocks that touch and agree are a
// region; a region counts where light and dark change often across it. Text, edges and print on cardboard do not.
const LOOKED_AT_PX = 640;
const BLOCK_PX = 8;
const LEAST_STRENGTH = 60; // mean square of the luma's gradient
const LEAST_AGREEMENT = 0.6; // coherence of the structure tensor, 0 to 1
const MOST_TURN = Math.cos((2 * 15 * Math.PI) / 180); // neighbours differ by 15 degrees at most
const LEAST_BLOCKS = 14;
const LEAST_ACROSS = 6; // blocks
const LEAST_ALONG = 2;
const LEAST_FILLED = 0.45;
const LEAST_CHANGES = 12;
const CHANGE = 5; // of the luma, between a dark and a light bar at least
const QUIET = 0.06; // of the width, as room for the quiet zones (GS1 General Specifications: ten modules)

// picture: ImageData. Gives the corners of each region, in its pixels: [[x, y] * 4].
self.findBars = function findBars(picture) {
  const grid = shrunk(picture);
  const blocks = orientations(grid);
  return regions(blocks).map((region) => boxed(region, grid)).filter(Boolean);
};

function shrunk({ data, width, height }) {
  const step = Math.max(1, Math.round(width / LOOKED_AT_PX));
  const w = Math.floor(width / step);
  const h = Math.floor(height / step);
  const luma = new Float32Array(w * h);
  for (let y = 0; y < h; y++) {
    for (let x = 0; x < w; x++) {
      let sum = 0;
      for (let dy = 0; dy < step; dy++) {
        let at = 4 * ((y * step + dy) * width + x * step);
        for (let dx = 0; dx < step; dx++, at += 4) sum += data[at] + 2 * data[at + 1] + data[at + 2];
      }
      luma[y * w + x] = sum / (4 * step * step);
    }
  }
  return { luma, w, h, step };
}

// Of each block: how strong its gradients are, and the doubled angle of their direction (so that both ways are one).
function orientations({ luma, w, h }) {
  const bw = Math.floor(w / BLOCK_PX);
  const bh = Math.floor(h / BLOCK_PX);
  const cos = new Float32Array(bw * bh);
  const sin = new Float32Array(bw * bh);
  const good = new Uint8Array(bw * bh);
  for (let by = 0; by < bh; by++) {
    for (let bx = 0; bx < bw; bx++) {
      let xx = 0, yy = 0, xy = 0;
      for (let y = Math.max(1, by * BLOCK_PX); y < Math.min(h - 1, (by + 1) * BLOCK_PX); y++) {
        for (let x = Math.max(1, bx * BLOCK_PX); x < Math.min(w - 1, (bx + 1) * BLOCK_PX); x++) {
          const at = y * w + x;
          const gx = (luma[at + 1] - luma[at - 1]) / 2;
          const gy = (luma[at + w] - luma[at - w]) / 2;
          xx += gx * gx; yy += gy * gy; xy += gx * gy;
        }
      }
      const strength = xx + yy;
      const length = Math.hypot(xx - yy, 2 * xy);
      const n = by * bw + bx;
      good[n] = strength > LEAST_STRENGTH * BLOCK_PX * BLOCK_PX && length > LEAST_AGREEMENT * strength ? 1 : 0;
      if (length) { cos[n] = (xx - yy) / length; sin[n] = (2 * xy) / length; }
    }
  }
  return { bw, bh, cos, sin, good };
}

function regions({ bw, bh, cos, sin, good }) {
  const found = [];
  const left = good.slice();
  for (let start = 0; start < left.length; start++) {
    if (!left[start]) continue;
    left[start] = 0;
    const members = [start];
    for (let i = 0; i < members.length; i++) {
      const at = members[i];
      const x = at % bw;
      const y = (at - x) / bw;
      for (let ny = Math.max(0, y - 1); ny <= Math.min(bh - 1, y + 1); ny++) {
        for (let nx = Math.max(0, x - 1); nx <= Math.min(bw - 1, x + 1); nx++) {
          const next = ny * bw + nx;
          if (left[next] && cos[at] * cos[next] + sin[at] * sin[next] > MOST_TURN) { left[next] = 0; members.push(next); }
        }
      }
    }
    if (members.length < LEAST_BLOCKS) continue;
    const angle = Math.atan2(members.reduce((sum, n) => sum + sin[n], 0), members.reduce((sum, n) => sum + cos[n], 0)) / 2;
    found.push({ angle, points: members.map((n) => [((n % bw) + 0.5) * BLOCK_PX, (Math.floor(n / bw) + 0.5) * BLOCK_PX]) });
  }
  return found;
}

// The upright or turned rectangle around a region, or null where it is not bars.
function boxed({ angle, points }, grid) {
  const ux = Math.cos(angle), uy = Math.sin(angle);
  let left = Infinity, right = -Infinity, top = Infinity, bottom = -Infinity;
  for (const [x, y] of points) {
    const across = x * ux + y * uy, along = y * ux - x * uy;
    left = Math.min(left, across); right = Math.max(right, across);
    top = Math.min(top, along); bottom = Math.max(bottom, along);
  }
  const half = BLOCK_PX / 2;
  left -= half; right += half; top -= half; bottom += half;
  const width = right - left, height = bottom - top;
  if (width < LEAST_ACROSS * BLOCK_PX || height < LEAST_ALONG * BLOCK_PX) return null;
  if (points.length * BLOCK_PX * BLOCK_PX < LEAST_FILLED * width * height) return null;
  if (changes(grid, left, right, (top + bottom) / 2, ux, uy) < LEAST_CHANGES) return null;
  const quiet = QUIET * width;
  const at = (across, along) => [(across * ux - along * uy) * grid.step, (across * uy + along * ux) * grid.step];
  return [at(left - quiet, top), at(right + quiet, top), at(right + quiet, bottom), at(left - quiet, bottom)];
}

// How often light and dark change on a line across the region.
function changes({ luma, w, h }, left, right, along, ux, uy) {
  let found = 0, low = Infinity, high = -Infinity, rising = null;
  for (let across = left; across <= right; across++) {
    const x = Math.round(across * ux - along * uy), y = Math.round(across * uy + along * ux);
    if (x < 0 || y < 0 || x >= w || y >= h) continue;
    const value = luma[y * w + x];
    low = Math.min(low, value); high = Math.max(high, value);
    if (rising !== true && value > low + CHANGE) { found++; rising = true; high = value; low = value; }
    else if (rising !== false && value < high - CHANGE) { found++; rising = false; low = value; high = value; }
    else if (rising === true) low = high = Math.max(high, value);
    else if (rising === false) low = high = Math.min(low, value);
  }
  return found;
}
