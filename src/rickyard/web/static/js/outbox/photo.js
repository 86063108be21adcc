// @ts-check
/**
 * Makes a photo small enough for a thin signal and takes out what it tells besides the picture.
 * Drawing it anew drops all metadata; the time it was taken is read before and sent beside it,
 * the place only if the owner keeps it.
 */

export const LONGEST_SIDE_PX = 2000;
const QUALITY = 0.85;
const DATE_TAKEN = 0x9003;
const EXIF_PART = 0x8769;
const GPS_PART = 0x8825;

/**
 * @param {File} file
 * @returns {Promise<{file: File, takenAt: string, latitude: string, longitude: string}>}
 */
export async function shrink(file) {
  const told = tags(new DataView(await file.slice(0, 262_144).arrayBuffer()));
  // The browser turns the picture the way it was held.
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const share = Math.min(1, LONGEST_SIDE_PX / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * share);
  canvas.height = Math.round(picture.height * share);
  /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d")).drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const small = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
  if (!(small instanceof Blob)) throw new Error("the picture could not be drawn");
  return { file: new File([small], "photo.jpg", { type: "image/jpeg" }), ...told };
}

/**
 * When and where a JPEG says it was taken; empty texts if it does not (Exif 2.32: TIFF inside segment APP1).
 * @param {DataView} data
 */
export function tags(data) {
  const told = { takenAt: "", latitude: "", longitude: "" };
  try {
    const start = tiffStart(data);
    if (start < 0) return told;
    const little = data.getUint16(start) === 0x4949;
    const first = directory(data, start, data.getUint32(start + 4, little), little);
    const exif = first.get(EXIF_PART);
    if (exif) {
      const taken = directory(data, start, exif.number, little).get(DATE_TAKEN);
      // "2026:11:25 14:03:59", by the camera's own clock and no zone.
      const found = taken && /^(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)/.exec(taken.text);
      if (found) told.takenAt = `${found[1]}-${found[2]}-${found[3]}T${found[4]}`;
    }
    const gps = first.get(GPS_PART);
    if (gps) {
      const place = directory(data, start, gps.number, little);
      told.latitude = degrees(place.get(2), place.get(1)?.text === "S");
      told.longitude = degrees(place.get(4), place.get(3)?.text === "W");
    }
  } catch (error) {
    // A file cut short or written wrongly tells nothing; the picture itself may be whole.
    if (!(error instanceof RangeError)) throw error;
  }
  return told;
}

/** @param {DataView} data @returns {number} */
function tiffStart(data) {
  if (data.byteLength < 4 || data.getUint16(0) !== 0xffd8) return -1;
  for (let at = 2; data.getUint8(at) === 0xff; at += 2 + data.getUint16(at + 2)) {
    if (data.getUint8(at + 1) === 0xe1 && data.getUint32(at + 4) === 0x45786966) return at + 10;
    if (data.getUint8(at + 1) === 0xda) break;
  }
  return -1;
}

/** @typedef {{number: number, text: string, ratios: number[]}} Tag */

/** @param {DataView} data @param {number} start @param {number} offset @param {boolean} little */
function directory(data, start, offset, little) {
  /** @type {Map<number, Tag>} */
  const found = new Map();
  const count = data.getUint16(start + offset, little);
  for (let item = 0; item < count; item += 1) {
    const at = start + offset + 2 + 12 * item;
    const type = data.getUint16(at + 2, little);
    const length = data.getUint32(at + 4, little);
    const size = type === 5 ? 8 * length : length;
    const place = size > 4 ? start + data.getUint32(at + 8, little) : at + 8;
    /** @type {Tag} */
    const tag = { number: data.getUint32(at + 8, little), text: "", ratios: [] };
    for (let n = 0; n < Math.min(length, 32); n += 1) {
      if (type === 2 && data.getUint8(place + n)) tag.text += String.fromCharCode(data.getUint8(place + n));
      if (type === 5 && n < 3) {
        tag.ratios.push(data.getUint32(place + 8 * n, little) / data.getUint32(place + 8 * n + 4, little));
      }
    }
    found.set(data.getUint16(at, little), tag);
  }
  return found;
}

/** @param {Tag | undefined} tag @param {boolean} minus */
function degrees(tag, minus) {
  const [whole, minutes, seconds] = tag?.ratios ?? [];
  const value = whole + minutes / 60 + seconds / 3600;
  return Number.isFinite(value) ? String((minus ? -value : value).toFixed(6)) : "";
}
