// @ts-check
// Rows of an append-only file: 4 bytes of length, 4 of CRC-32 (both little-endian), then JSON. A torn tail ends the file.

/** The table of CRC-32 as in ISO 3309 and RFC 1952. */
const TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c;
});

/** @param {Uint8Array} bytes @returns {number} */
export function crc32(bytes) {
  let c = 0xffffffff;
  for (const byte of bytes) c = TABLE[(c ^ byte) & 0xff] ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}

/** @param {unknown} value @returns {Uint8Array<ArrayBuffer>} */
export function encode(value) {
  const body = new TextEncoder().encode(JSON.stringify(value));
  const row = new Uint8Array(8 + body.length);
  const head = new DataView(row.buffer);
  head.setUint32(0, body.length, true);
  head.setUint32(4, crc32(body), true);
  row.set(body, 8);
  return row;
}

/** Every whole row from the start; what follows the first torn one was never said to be kept.
 * @param {ArrayBuffer} buffer @returns {any[]} */
export function decode(buffer) {
  const rows = [];
  const head = new DataView(buffer);
  for (let at = 0; at + 8 <= buffer.byteLength; ) {
    const length = head.getUint32(at, true);
    if (length === 0 || at + 8 + length > buffer.byteLength) break;
    const body = new Uint8Array(buffer, at + 8, length);
    if (crc32(body) !== head.getUint32(at + 4, true)) break;
    rows.push(JSON.parse(new TextDecoder().decode(body)));
    at += 8 + length;
  }
  return rows;
}
