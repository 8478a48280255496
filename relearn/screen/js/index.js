export { append, sample, figure, clock } from "./rows.js";
export { colours, under, over } from "./painting.js";
