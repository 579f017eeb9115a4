// Says the texts of the scripts in the page's language: templates by the catalogue that the page brings with it, plurals,
// lists, numbers and times by the browser (ECMA-402). Where it brings none, in English, in which the templates are written.

const ENGLISH = "en";
const { language = ENGLISH, plurals = {}, messages = {} } = globalThis.catalogue ?? {};
// The reader's own variety of that language, where the browser names one: English times differ by country.
const locale = (globalThis.navigator?.languages ?? []).find((tag) => tag.split("-")[0].toLowerCase() === language) ?? language;
const rules = new Intl.PluralRules(language);
const figures = new Intl.NumberFormat(locale);
const lists = new Intl.ListFormat(language);

// A template with its values: message("To bay {bay}", { bay }).
export function message(text, values = {}) {
  const found = messages[text] ?? text;
  return filled(Array.isArray(found) ? found[0] : found, values);
}

// The template for this number, which is the value {number}: plural(n, "{number} scan", "{number} scans").
export function plural(number, one, several, values = {}) {
  const forms = messages[one];
  const template = Array.isArray(forms) ? forms[plurals[rules.select(number)]] ?? forms.at(-1) : number === 1 ? one : several;
  return filled(template, { number: figures.format(number), ...values });
}

// Things as a sentence lists them.
export function listed(parts) {
  if (language !== ENGLISH) return lists.format(parts.map(String));
  return parts.length < 2 ? parts.join("") : `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}`;
}

// A number with the decimals asked for.
export function figure(value, decimals = 0) {
  return new Intl.NumberFormat(locale, { minimumFractionDigits: decimals, maximumFractionDigits: decimals }).format(value);
}

// A time of the day where it is today, else with its day.
export function clockTime(ms) {
  const when = new Date(ms);
  const today = when.toDateString() === new Date().toDateString();
  return when.toLocaleString(locale, today ? { timeStyle: "short" } : { dateStyle: "medium", timeStyle: "short" });
}

function filled(template, values) {
  return template.replace(/\{(\w+)\}/g, (whole, name) => (Object.hasOwn(values, name) ? values[name] : whole));
}
