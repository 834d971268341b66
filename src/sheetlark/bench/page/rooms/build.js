import { computedRoom } from "./shared.js";
export function buildRoom() { return computedRoom("build", "Build and log", () => []); }
