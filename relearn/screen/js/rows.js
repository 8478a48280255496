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
  for (const time of decode(part.time, Float32Array)) rows[0].push(part.begun + time);
  part.values.forEach((text, k) => {
    for (const value of decode(text, Float32Array)) put(rows[k + 1], value);
  });
}

// The index of the last row at or before a time; -1 for none.
function before(times, time) {
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

// A number at an axis, without the dust that binary fractions leave.
export function label(value) {
  return String(Number(value.toFixed(4)));
}

export function clock(seconds) {
  const tenths = Math.round(Math.abs(seconds) * 10), rest = tenths % 600;
  const text = rest % 10 ? (rest / 10).toFixed(1).padStart(4, "0") : String(rest / 10).padStart(2, "0");
  return (seconds < 0 && tenths ? "-" : "") + Math.floor(tenths / 600) + ":" + text;
}
