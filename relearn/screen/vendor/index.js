export { default } from "./uPlot.esm.js";
