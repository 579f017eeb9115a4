// Which carton a scanned text is, by the rules of the service where they are certain: an SSCC with its check digit, or a
// code that exactly one carton of the manifest carries. Everything else is left to the service; a phone never guesses.
// tests/web/matching_cases.json holds one table of cases for this file and for the service.

// AIM symbology identifiers that say that FNC1 stands first (GS1 General Specifications, figure 5.1.3-1).
const GS1_CARRIERS = new Set(["]C1", "]e0", "]e1", "]e2", "]d2", "]d5", "]Q3", "]Q4", "]J1", "]z1", "]K1", "]T1"]);
const RETAIL = new Set(["]E0", "]E3", "]E4"]);
const KEYBOARD_SPACES = /[ \-\u00a0\u2009\u202f.]/g;
const GTIN_LENGTHS = new Set([8, 12, 13, 14]);
const GS = "\u001d";

// GS1 General Specifications, section 7.9.1: weights 3 and 1 from the right, the check digit last.
export function hasCheckDigit(digits) {
  if (!/^\d+$/.test(digits)) return false;
  const sum = [...digits].reverse().reduce((total, digit, n) => total + Number(digit) * (n % 2 ? 3 : 1), 0);
  return sum % 10 === 0;
}

export function paddedGtin(code) {
  return GTIN_LENGTHS.has(code.length) && /^\d+$/.test(code) ? code.padStart(14, "0") : code;
}

function ssccOf(digits) {
  return digits.length === 18 && hasCheckDigit(digits) ? digits : "";
}

// The one code that a text surely carries: an SSCC, or the text itself; empty where the service has to decide.
export function codeOf(text) {
  const line = text.replace(/[\r\n\t]+$/, "");
  const carrier = /^\][A-Za-z][0-9A-Za-z]/.test(line) ? line.slice(0, 3) : "";
  const data = (carrier ? line.slice(3) : line).trim();
  if (!data || /[{}<>\\^]/.test(data)) return ""; // stand-ins for control characters: the service knows them all
  if (data.startsWith("[)>") || /^https?:/i.test(data) || data.startsWith("(")) return bracketed(data);
  const plain = data.replace(KEYBOARD_SPACES, "");
  if (/^00\d{18}$/.test(plain) && (!carrier || GS1_CARRIERS.has(carrier))) return ssccOf(plain.slice(2));
  if (GS1_CARRIERS.has(carrier) || data.includes(GS)) return elements(data);
  if (/^\d{18}$/.test(plain) && !carrier) return ssccOf(plain);
  if (RETAIL.has(carrier)) return GTIN_LENGTHS.has(data.length) && hasCheckDigit(data) ? data : "";
  return carrier || /^[A-Za-z0-9][A-Za-z0-9 ./_-]*$/.test(data) ? data : "";
}

// "(00) 3 9520000 000000003 6": an SSCC alone in brackets; or a Digital Link whose key is one (GS1 Digital Link 1.2:
// https://id.example/00/395200000000000036). An envelope is the service's.
function bracketed(data) {
  const link = data.match(/^https?:\/\/[^/?#\s]+(?:\/[^?#\s]*)?\/00\/(\d{18})(?:[?#]\S*)?$/i);
  if (link) return ssccOf(link[1]);
  const match = data.match(/^\(00\)([\d \-.]+)$/);
  return match ? ssccOf(match[1].replace(KEYBOARD_SPACES, "")) : "";
}

// Element strings that begin with an SSCC, or hold one right behind a separator.
function elements(data) {
  const found = data.split(GS).filter((part) => /^00\d{18}/.test(part)).map((part) => ssccOf(part.slice(2, 20)));
  return found.length === 1 ? found[0] : "";
}

// {carton, kind, bay, first, here, care} of a text, or null where the service has to decide.
export function matchOnPhone(text, sheet) {
  const code = codeOf(text);
  const carton = code && sheet ? sheet.codes[paddedGtin(code)] : undefined;
  return carton === undefined ? null : { carton, ...sheet.cartons[carton] };
}
