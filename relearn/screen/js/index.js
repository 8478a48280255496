export { append, sample, figure, label, clock } from "./rows.js";
export { colours, under, over } from "./painting.js";
