// Rows as they come from the server, and what can be read from them.

function decode(text, kind) {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  return new kind(bytes.buffer);
}

// A value without a sample at its time is undefined (the line goes on), one where the line breaks is null.
function put(column, value) {
  if (value === Infinity) for (let n = column.length - 1; n >= 0 && column[n] === undefined; n--) column[n] = null;
  column.push(Number.isNaN(value) ? undefined : value === Infinity ? null : value);
}

// Put a part behind the first `part.from` rows; what was there instead goes.
export function append(rows, part) {
  if (part.from < rows[0].length) rows.forEach((column) => column.splice(part.from));
  for (const time of decode(part.time, Float64Array)) rows[0].push(time);
  part.values.forEach((text, k) => {
    for (const value of decode(text, Float32Array)) put(rows[k + 1], value);
  });
}

// The index of the last row at or before a time; -1 for none.
export function before(times, time) {
  let low = 0, high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] <= time) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

// The last sample of a column at or before a time, as {at, value}; null for none.
export function sample(rows, k, time) {
  for (let n = before(rows[0], time); n >= 0; n--) {
    const value = rows[k + 1][n];
    if (value !== undefined && value !== null) return { at: rows[0][n], value };
  }
  return null;
}

export function figure(value) {
  const size = Math.abs(value);
  return value.toFixed(size >= 100 ? 0 : size >= 10 ? 1 : 2);
}

export function clock(seconds) {
  const tenths = Math.round(Math.abs(seconds) * 10), rest = tenths % 600;
  const text = rest % 10 ? (rest / 10).toFixed(1).padStart(4, "0") : String(rest / 10).padStart(2, "0");
  return (seconds < 0 && tenths ? "-" : "") + Math.floor(tenths / 600) + ":" + text;
}

// Fewer rows for a view that has many on each pixel: of each stretch and column the least and the most, where they are.
export function thinned(rows, from, to, most) {
  const first = Math.max(before(rows[0], from), 0), last = Math.min(before(rows[0], to) + 2, rows[0].length);
  if (last - first <= most) return null;
  const step = Math.ceil((last - first) / (most / (2 * (rows.length - 1) + 1)));
  const kept = [];
  for (let start = first; start < last; start += step) {
    const here = new Set([start]);
    for (let k = 1; k < rows.length; k++) extremes(rows[k], start, Math.min(start + step, last), here);
    kept.push(...[...here].sort((a, b) => a - b));
  }
  return rows.map((column) => kept.map((n) => column[n]));
}

function extremes(column, start, end, into) {
  let low = -1, high = -1;
  for (let n = start; n < end; n++) {
    const value = column[n];
    if (value === null) into.add(n);
    if (value === undefined || value === null) continue;
    if (low < 0 || value < column[low]) low = n;
    if (high < 0 || value > column[high]) high = n;
  }
  if (low >= 0) into.add(low);
  if (high >= 0) into.add(high);
}
