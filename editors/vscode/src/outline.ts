// What the outline and the lenses of a record tell of its stages. Pure, so that it is tested without an editor.

/** A line of the document. */
export interface Place {
  line: number;
  character: number;
}

/** A point of a stage. */
export interface Point {
  name: string;
  /** How it stands, in the server's word; nothing where lenses are switched off. */
  state: string | undefined;
  /** Where its act stands, else where its stage begins. */
  place: Place;
}

/** A stage of a record. */
export interface Stage {
  name: string;
  /** How it stands, in the server's words: `in progress, 25 recorded, 58 pending`. */
  standing: string;
  place: Place;
  points: Point[];
}

interface Symbol {
  name: string;
  detail?: string;
  selectionRange: { start: Place };
  range: { start: Place; end: Place };
  children?: Symbol[];
}

interface Lens {
  range: { start: Place };
  command?: { title: string };
}

const ACT = /^(?:release|witnessed|waived|reviewed) (\S+)$/;
/** What parts the words of a lens; the first tells of the stage, each other of one point. */
const BETWEEN = " · ";

/** The name of the unit whose record this is; nothing for other documents. */
export function unitOf(symbols: Symbol[]): string | undefined {
  return symbols.map((symbol) => /^unit (.+)$/.exec(symbol.name)?.[1]).find(Boolean);
}

/** The stages of a record: those of the text in its order, then those that have not begun. */
export function stagesOf(symbols: Symbol[], lenses: Lens[]): Stage[] {
  const titles = new Map(lenses.map((lens) => [lens.range.start.line, lens.command?.title ?? ""]));
  return symbols.flatMap((symbol) => {
    const name = /^stage (.+)$/.exec(symbol.name)?.[1];
    if (name === undefined) {
      return [];
    }
    const { start: place, end } = symbol.range;
    const points = new Map<string, Point>();
    // A stage that has not begun has no line: the lens that may stand there is another's.
    const begun = place.line !== end.line || place.character !== end.character;
    for (const words of (begun && titles.get(place.line)?.split(BETWEEN).slice(1)) || []) {
      const [point = "", ...state] = words.split(" ");
      points.set(point, { name: point, state: state.join(" "), place });
    }
    for (const child of symbol.children ?? []) {
      const point = ACT.exec(child.name)?.[1];
      if (point !== undefined) {
        const state = points.get(point)?.state;
        points.set(point, { name: point, state, place: child.range.start });
      }
    }
    return [{ name, standing: symbol.detail ?? "", place, points: [...points.values()] }];
  });
}

/** The icon of a stage and the colour of the theme it has. */
export function iconOf(standing: string): [icon: string, colour: string | undefined] {
  const words = standing.split(", ");
  if (words.some((word) => word.endsWith(" failing") || word.endsWith(" missing"))) {
    return ["error", "list.errorForeground"];
  }
  switch (words[0]) {
    case "complete":
      return ["pass", "testing.iconPassed"];
    case "in progress":
      return ["sync", "list.warningForeground"];
    case "does not apply":
      return ["circle-slash", undefined];
    default:
      return ["circle-outline", undefined];
  }
}

/** What is told behind the name of a stage: first what asks for work. The icon tells the state. */
export function countsOf(standing: string): string {
  const [state = "", ...counts] = standing.split(", ");
  const rank = (count: string) =>
    ["failing", "missing", "pending", "conceded"].findIndex((word) => count.endsWith(word)) >>> 0;
  return counts.length === 0 ? state : counts.sort((a, b) => rank(a) - rank(b)).join(", ");
}
