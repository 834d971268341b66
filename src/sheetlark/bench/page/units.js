// Figures as people read them. Values of the design are SI; figures of the document are mm, g, m/s, %.

let imperial = false;

export const isImperial = () => imperial;
export function setImperial(on) { imperial = on; }

const round = (value, places) => {
  const text = value.toFixed(places);
  return (Number(text) === 0 ? (0).toFixed(places) : text).replace("-", "−");
};
const spare = (value, places) => String(Number(value.toFixed(places)));

// [factor from SI to what is shown, unit, places, step in what is shown]
const SHOWN = {
  length: () => (imperial ? [1 / 0.0254, "in", 3, 0.05] : [1000, "mm", 2, 1]),
  mass: () => (imperial ? [1 / 0.028349523125, "oz", 3, 0.05] : [1000, "g", 1, 1]),
  angle: () => [180 / Math.PI, "°", 2, 0.5],
  speed: () => (imperial ? [1 / 0.44704, "mph", 2, 1] : [1, "m/s", 2, 0.5]),
  fraction: () => [1, "", 3, 0.01],
  altitude: () => (imperial ? [1 / 0.3048, "ft", 0, 50] : [1, "m", 0, 10]),
};

export function unitOf(kind) {
  if (kind === "temperature") return imperial ? "°F" : "°C";
  return SHOWN[kind] ? SHOWN[kind]()[1] : "";
}

export function stepOf(kind) {
  if (kind === "temperature") return 1;
  return SHOWN[kind] ? SHOWN[kind]()[3] : 1;
}

// A value of the design for a box to type in, without its unit.
export function entry(kind, value) {
  if (value === null || value === undefined) return "";
  if (kind === "temperature") return spare(imperial ? (value - 273.15) * 1.8 + 32 : value - 273.15, 1);
  const how = SHOWN[kind];
  if (!how || typeof value !== "number") return String(value);
  const [factor, , places] = how();
  return spare(value * factor, places);
}

// A quantity as a person wrote it, in a box of words. A number alone has the page's unit, which is written with it; a
// quantity of the other system is shown in the page's.
const ALONE = /^\s*[\d.,]+\s*$/, ONE = /^\s*(\d+(?:[.,]\d*)?)\s*(mm|cm|m|in|ft|g|kg|oz|lb)\s*$/;
const IN_SI = { mm: 1e-3, cm: 0.01, m: 1, in: 0.0254, ft: 0.3048, g: 1e-3, kg: 1, oz: 0.028349523125, lb: 0.45359237 };
const FOREIGN = new Set(["in", "ft", "oz", "lb"]);
export const withUnit = (kind, words) => (ALONE.test(words) ? `${words.trim()} ${unitOf(kind)}` : words.trim());
export function asWritten(kind, words) {
  const found = ONE.exec(words);
  if (!found || FOREIGN.has(found[2]) === imperial) return words;
  const value = Number(found[1].replace(",", ".")) * IN_SI[found[2]], [factor, unit] = SHOWN[kind]();
  return `${spare(value * factor, 2)} ${unit}`;
}

// Millimetres, for drawing's own readings.
export function mm(value, places = 1) {
  return imperial ? `${round(value / 25.4, places + 1)} in` : `${round(value, places)} mm`;
}

// A figure of the document: [number, unit].
export function figure(kind, value) {
  if (value === null || value === undefined || !Number.isFinite(value)) return ["–", ""];
  switch (kind) {
    case "mass": return imperial ? [round(value / 28.349523125, 2), "oz"] : [round(value, value < 100 ? 1 : 0), "g"];
    case "length": return imperial ? [round(value / 25.4, 2), "in"] : [round(value, 1), "mm"];
    case "speed": return imperial ? [round(value / 0.44704, 1), "mph"] : [round(value, 1), "m/s"];
    case "distance": return imperial ? [round(value / 0.3048, 0), "ft"] : [round(value, 1), "m"];
    case "moment": return imperial ? [round(value / (0.27801385 * 0.0254), 1), "oz in"] : [round(value, 2), "N m"];
    case "stress": return imperial ? [round(value * 145.037738, value < 0.7 ? 1 : 0), "psi"] : [round(value, value < 0.1 ? 3 : value < 10 ? 2 : 1), "MPa"];
    case "dragarea": return imperial ? [round(value / 6.4516, 2), "in²"] : [round(value, value < 10 ? 2 : 1), "cm²"];
    case "inertia": return imperial ? [round(value / 0.0182899785, 1), "oz in²"] : [round(value, 2), "g m²"];
    case "cubic": return imperial ? [round(value * 0.998847, 1), "oz/ft³"] : [round(value, 1), "kg/m³"];
    case "percent": return [round(value, 1), "%"];
    case "power": return [round(value, 0), "W"];
    case "force": {
      const by = imperial ? value / 0.27801385 : value, size = Math.abs(by);
      return imperial ? [round(by, size < 100 ? 1 : 0), "oz"] : [round(by, size < 10 ? 2 : size < 100 ? 1 : 0), "N"];
    }
    case "ratio": return [round(value, 2), ""];
    case "time": return [round(value, 1), "min"];
    case "current": return [round(value, 1), "A"];
    case "angle": return [round(value, 1), "°"];
    case "loading": return imperial ? [round(value / 3.05151727, 1), "oz/ft²"] : [round(value, 1), "g/dm²"];
    case "area": return imperial ? [round(value * 15.5000310, 0), "in²"] : [round(value, 2), "dm²"];
    default: return [round(value, 2), ""];
  }
}

// For a plot's axis: [factor from what the bench tells to what is shown, unit].
const AXES = {
  speed: () => (imperial ? [1 / 0.44704, "mph"] : [1, "m/s"]),
  force: () => (imperial ? [1 / 0.27801385, "oz"] : [1, "N"]),
  length: () => (imperial ? [1 / 25.4, "in"] : [1, "mm"]),
  distance: () => (imperial ? [1 / 0.3048, "ft"] : [1, "m"]),
  load: () => (imperial ? [0.0254 / 0.27801385, "oz/in"] : [1, "N/m"]),
  moment: () => (imperial ? [1 / (0.27801385 * 0.0254), "oz in"] : [1, "N m"]),
};
export const axisOf = (kind) => (AXES[kind] ? AXES[kind]() : [1, ""]);
export const scaled = (kind, values) => { const [by] = axisOf(kind); return by === 1 ? values : values.map((v) => (v === null ? null : v * by)); };

// Words with quantities in them, written {kind:value} by the bench.
export const spoken = (words) => inPageUnits(words).replace(/\{(\w+):(-?[\d.]+)\}/g, (_all, kind, value) => told(kind, Number(value)))
  .replace(/(^|[\s(])-(?=\d)/g, "$1−").replace(/(\d) (?=%)/g, "$1\u00a0");

export const told = (kind, value) => figure(kind, value).join(" ").trim();

// Words written in metric units, such as a builder's note: in the page's units. Only what stands before a unit changes.
const WRITTEN = { "mm³": [1 / 16387.064, "in³"], "mm²": [1 / 645.16, "in²"], "cm²": [1 / 6.4516, "in²"], "dm²": [100 / 6.4516, "in²"], mm: [1 / 25.4, "in"], "m/s": [1 / 0.44704, "mph"], m: [1 / 0.3048, "ft"], "N m": [1 / (0.27801385 * 0.0254), "oz in"], N: [1 / 0.27801385, "oz"], MPa: [145.037738, "psi"] };
const QUANTITY = /([−-]?\d+(?:\.\d+)?(?:(?: to | x | × |, [yz] | and )[−-]?\d+(?:\.\d+)?)*)[ \u00a0](mm³|mm²|cm²|dm²|mm|m\/s|m|N m|N|MPa)(?![\w²³/])/g;
export function inPageUnits(words) {
  if (!imperial) return words;
  return words.replace(QUANTITY, (_all, numbers, unit) => {
    const [by, shown] = WRITTEN[unit];
    const turned = numbers.replace(/[−-]?\d+(?:\.\d+)?/g, (text) => {
      const value = Number(text.replace("−", "-")), places = (text.split(".")[1] ?? "").length;
      return round(value * by, by < 0.001 ? 3 : Math.max(0, Math.min(3, places + Math.ceil(-Math.log10(by)))));
    });
    return `${turned} ${shown}`;
  });
}
