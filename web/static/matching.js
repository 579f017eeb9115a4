// Which carton a scanned or typed text is, by the rules of the service where they are certain: a code that exactly one
// carton of the manifest carries, in any form in which it is written, or a typed number or place that can mean one carton
// only. Everything else is left to the service; a phone never guesses. The sheet has the forms of each code and what may be
// typed, worked out by the service. tests/web/matching_cases.json holds one table of cases for this file and for the service.
import { aimText } from "./profile.js";

// AIM symbology identifiers that say that FNC1 stands first (GS1 General Specifications, figure 5.1.3-1).
const GS1_CARRIERS = new Set(["]C1", "]e0", "]e1", "]e2", "]d2", "]d5", "]Q3", "]Q4", "]J1", "]z1", "]K1", "]T1"]);
const RETAIL = new Set(["]E0", "]E3", "]E4"]);
const KEYBOARD_SPACES = /[ \-\u00a0\u2009\u202f.]/g;
const FORM_SPACES = /[ \-\u00a0\u2009\u202f]/g;
const GTIN_LENGTHS = new Set([8, 12, 13, 14]);
const SHORTEST_FOLDED = 6;
const GS = "\u001d";
const RS = "\u001e";
const EOT = "\u0004";

// GS1 General Specifications, section 7.9.1: weights 3 and 1 from the right, the check digit last.
export function hasCheckDigit(digits) {
  if (!/^\d+$/.test(digits)) return false;
  const sum = [...digits].reverse().reduce((total, digit, n) => total + Number(digit) * (n % 2 ? 3 : 1), 0);
  return sum % 10 === 0;
}

export function paddedGtin(code) {
  return GTIN_LENGTHS.has(code.length) && /^\d+$/.test(code) ? code.padStart(14, "0") : code;
}

// The codes that a text surely carries, the first one first; none where the service has to decide.
export function codesOf(text) {
  const line = text.replace(/^[\r\n\t\u0002\u0003\u0000]+|[\r\n\t\u0002\u0003\u0000]+$/g, "");
  const carrier = /^\][A-Za-z][0-9A-Za-z]/.test(line) ? line.slice(0, 3) : "";
  let data = (carrier ? line.slice(3) : line).trim();
  if (!carrier) data = data.replace(/^SSCC[\s:#.-]*(?=[0-9(])/i, ""); // the word on the label, typed with the number
  if (data.startsWith("[)>")) return envelope(data);
  if (!data || /[{}<>\\^]/.test(data)) return []; // stand-ins for control characters: the service knows them all
  if (/^https?:/i.test(data) || data.startsWith("(")) return bracketed(data);
  const plain = data.replace(KEYBOARD_SPACES, "");
  if (/^00\d{18}$/.test(plain) && (!carrier || GS1_CARRIERS.has(carrier))) return [plain.slice(2)];
  if (GS1_CARRIERS.has(carrier) || data.includes(GS)) return elements(data, carrier);
  if (/^\d{18}$/.test(plain) && !carrier) return [plain];
  if (RETAIL.has(carrier)) return GTIN_LENGTHS.has(data.length) && hasCheckDigit(data) ? [data] : [];
  return carrier || /^[A-Za-z0-9][A-Za-z0-9 ./_-]*$/.test(data) ? [data] : [];
}

export function codeOf(text) {
  return codesOf(text)[0] ?? "";
}

// "(00) 3 9520000 000000003 6": an SSCC alone in brackets; or a Digital Link whose key is one (GS1 Digital Link 1.2:
// https://id.example/00/395200000000000036).
function bracketed(data) {
  const link = data.match(/^https?:\/\/[^/?#\s]+(?:\/[^?#\s]*)?\/00\/(\d{18})(?:[?#]\S*)?$/i);
  if (link) return [link[1]];
  const digits = data.match(/^\(00\)([\d \-.]+)$/)?.[1].replace(KEYBOARD_SPACES, "") ?? "";
  return digits.length === 18 ? [digits] : [];
}

// Element strings that begin with an SSCC, or hold one right behind a separator; without one they stand for themselves,
// as a postal code before a parcel's number does (AI 420). A GTIN is the service's.
function elements(data, carrier) {
  const found = data.split(GS).filter((part) => /^00\d{18}/.test(part)).map((part) => part.slice(2, 20));
  if (found.length) return found.length === 1 ? found : [];
  return GS1_CARRIERS.has(carrier) && !/^0[12]/.test(data) && !data.includes(`${GS}00`) ? [data.replaceAll(GS, "")] : [];
}

// ISO/IEC 15434 with data identifiers (format 06): the license plate of ISO/IEC 15459-1 and package numbers of ANSI
// MH10.8.2; or a carrier's message (format 01), whose parcel number is put together as the service does.
function envelope(data) {
  const formats = data.slice(3).split(RS).map((form) => form.replaceAll(EOT, "")).filter(Boolean);
  if (formats.length !== 1) return [];
  const [number, content] = [formats[0].slice(0, 2), formats[0].slice(2).replace(GS, "")];
  const fields = content.split(GS).filter(Boolean);
  if (number === "01") return parcel(content.split(GS));
  if (number !== "06") return [];
  const plates = fields.map((field) => field.match(/^[1-6]?J(.+)$/)?.[1]).filter(Boolean);
  const sscc = plates[0]?.match(/^(?:00)?(\d{18})$/)?.[1];
  const packages = fields.map((field) => field.match(/^[345]S(.+)$/)?.[1]).filter(Boolean);
  return [...(sscc && hasCheckDigit(sscc) ? [sscc] : []), ...plates, ...packages];
}

function parcel([, , service = "", number = "", , shipper = ""]) {
  const short = /^1Z[A-Z0-9]{8}$/.test(number) && shipper.length === 6 && service.length >= 2;
  return [...(short ? [`1Z${shipper}${service.slice(-2)}${number.slice(2)}`] : []), ...(number ? [number] : [])];
}

// The forms that a code of a label may have on the manifest (receiving/model/identifiers.py has the sources).
export function shownForms(code) {
  const folded = code.length >= SHORTEST_FOLDED ? code.replace(FORM_SPACES, "").toUpperCase() : code;
  const bare = folded.replace(/^[1-6]J(?=[A-Z0-9]{4})/, "").replace(/^J(?=[A-Z]{2}[A-Z0-9]*[0-9])/, "");
  const forms = [paddedGtin(code), paddedGtin(folded), bare];
  const digits = code.replace(FORM_SPACES, "");
  if (/^00\d{18}$/.test(digits)) forms.push(digits.slice(2));
  if (/^\d{34}$/.test(digits)) forms.push(digits.slice(-12), digits.slice(-14).replace(/^0+/, ""), digits.slice(-15));
  if (/^96\d{20}$/.test(digits)) forms.push(digits.slice(-15));
  for (const postal of [/^420\d{5}(?=9\d{19,25}$)/, /^420\d{9}(?=9\d{19,25}$)/]) {
    if (postal.test(digits)) forms.push(digits.replace(postal, ""));
  }
  return [...forms.slice(0, 3), ...forms.slice(3).filter(Boolean).map(paddedGtin)];
}

function cartonOf(code, sheet) {
  for (const form of shownForms(code)) if (Object.hasOwn(sheet.codes, form)) return sheet.codes[form];
  return undefined;
}

// A carton's number or its place, as a person types them: 13, 013, #13, 1-1. The sheet says what is certain; a longer
// text may be a part of a code as well, and is certain only as the service tried it.
function typedName(text, sheet) {
  const data = text.trim();
  const number = data.match(/^(?:#|no\.?)?\s*([0-9A-Za-z-]{1,20})$/i)?.[1].toLowerCase();
  const place = data.match(/^(?:c(?:ol)?\.?\s*)?(\d{1,3})\s*[-.,x]\s*(?:r(?:ow)?\.?\s*)?(\d{1,3})$/i);
  const bare = number && /^\d+$/.test(number) ? number.replace(/^0+(?=\d)/, "") : number;
  for (const key of new Set([number, bare, place && `${Number(place[1])}-${Number(place[2])}`])) {
    const short = data.length < 4 || data.toLowerCase() === key || /\s/.test(data);
    if (key && short && Object.hasOwn(sheet.typed, key)) return sheet.typed[key];
  }
  return "";
}

// Two neighbours of a typed SSCC may be swapped: where that is another carton's, the service asks.
function swappedIsAnother(code, sheet) {
  if (code.length !== 18) return false;
  return [...code].some((digit, n) => n && digit !== code[n - 1] && cartonOf(code.slice(0, n - 1) + digit + code[n - 1] + code.slice(n + 1), sheet) !== undefined);
}

// {carton, kind, bay, first, here, care} of a text, or null where the service has to decide. A line of this browser's
// scanner is put right first, as its test page found.
export function matchOnPhone(text, sheet, source = "camera") {
  if (!sheet) return null;
  const typed = source === "typed";
  const line = source === "scanner" ? aimText(text, sheet.scanner) : text;
  const codes = codesOf(line);
  const known = codes.map((code) => cartonOf(code, sheet)).filter((carton) => carton !== undefined);
  let carton = known.length && known.every((each) => each === known[0]) ? known[0] : "";
  if (typed && !known.length) carton = typedName(line, sheet);
  if (typed && known.length && codes.some((code) => swappedIsAnother(code, sheet))) carton = "";
  if (!carton || (typed && !known.length && sheet.cartons[carton].here)) return null;
  return { carton, ...sheet.cartons[carton] };
}
