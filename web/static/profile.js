// What a wedge scanner did to a label's text, undone as the service undoes it (receiving/reading/symbology.py): what it puts
// before and behind, its own code identifiers, and what it types for the control characters.

const CONTROLS = [["gs", "\u001d"], ["rs", "\u001e"], ["eot", "\u0004"]];

export function aimText(typed, profile) {
  if (!profile) return typed;
  let text = profile.prefix && typed.startsWith(profile.prefix) ? typed.slice(profile.prefix.length) : typed;
  if (profile.suffix && text.endsWith(profile.suffix)) text = text.slice(0, -profile.suffix.length);
  for (const [own, aim] of [[profile.gs1_id, "]C1"], [profile.matrix_id, "]d1"]]) {
    if (own && text.startsWith(own)) {
      text = aim + text.slice(own.length);
      break;
    }
  }
  const signs = CONTROLS.map(([name, meant]) => [profile[name], meant]).filter(([stands, meant]) => stands && stands !== meant);
  for (const [stands, meant] of signs.sort(([a], [b]) => b.length - a.length)) text = text.replaceAll(stands, meant);
  return text;
}
