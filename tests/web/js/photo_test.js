import { equal, ok } from "./check.js";

/** A JPEG of the browser's own with an Exif part (TIFF 6.0, Exif 2.32) written in before it. */
async function jpeg(width, height, little) {
  const canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext("2d");
  context.fillStyle = "#a52";
  context.fillRect(0, 0, width, height);
  const plain = await (await canvas.convertToBlob({ type: "image/jpeg" })).arrayBuffer();
  const tiff = new DataView(new ArrayBuffer(256));
  tiff.setUint16(0, little ? 0x4949 : 0x4d4d);
  tiff.setUint16(2, 42, little);
  tiff.setUint32(4, 8, little);
  const tag = (at, id, type, count, value) => {
    tiff.setUint16(at, id, little);
    tiff.setUint16(at + 2, type, little);
    tiff.setUint32(at + 4, count, little);
    tiff.setUint32(at + 8, value, little);
  };
  tiff.setUint16(8, 2, little);
  tag(10, 0x8769, 4, 1, 40);
  tag(22, 0x8825, 4, 1, 60);
  tiff.setUint16(40, 1, little);
  tag(42, 0x9003, 2, 20, 120);
  [..."2026:11:24 07:05:09\0"].forEach((sign, n) => tiff.setUint8(120 + n, sign.charCodeAt(0)));
  tiff.setUint16(60, 4, little);
  tag(62, 1, 2, 2, 0);
  tiff.setUint8(70, "N".charCodeAt(0));
  tag(74, 2, 5, 3, 150);
  tag(86, 3, 2, 2, 0);
  tiff.setUint8(94, "W".charCodeAt(0));
  tag(98, 4, 5, 3, 180);
  [45, 1, 57, 1, 36, 1].forEach((n, i) => tiff.setUint32(150 + 4 * i, n, little));
  [66, 1, 38, 1, 0, 1].forEach((n, i) => tiff.setUint32(180 + 4 * i, n, little));
  const head = new Uint8Array(2 + 4 + 6 + 256);
  head.set([0xff, 0xd8, 0xff, 0xe1, 0x01, 0x08, 0x45, 0x78, 0x69, 0x66, 0, 0]);
  head.set(new Uint8Array(tiff.buffer), 12);
  return new File([head, plain.slice(2)], "IMG_0001.JPG", { type: "image/jpeg" });
}

export default async ({ load }) => {
  const { shrink, tags, LONGEST_SIDE_PX } = await load("outbox/photo.js");
  return {
    "the longest side is 2,000 px, the shape stays": async () => {
      const { file } = await shrink(await jpeg(3000, 1500, true));
      const picture = await createImageBitmap(file);
      equal([picture.width, picture.height], [LONGEST_SIDE_PX, 1000]);
      equal(file.type, "image/jpeg");
    },
    "a small one is not blown up": async () => {
      const picture = await createImageBitmap((await shrink(await jpeg(300, 200, true))).file);
      equal([picture.width, picture.height], [300, 200]);
    },
    "time and place are read in both byte orders, and are gone from the picture": async () => {
      for (const little of [true, false]) {
        const shot = await jpeg(400, 300, little);
        const { file, takenAt, latitude, longitude } = await shrink(shot);
        equal([takenAt, latitude, longitude], ["2026-11-24T07:05:09", "45.960000", "-66.633333"]);
        const bytes = new TextDecoder("latin1").decode(await file.arrayBuffer());
        ok(!bytes.includes("Exif") && !bytes.includes("2026:11:24"), "metadata left");
      }
    },
    "no metadata, or broken, tells nothing": async () => {
      const none = { takenAt: "", latitude: "", longitude: "" };
      equal(tags(new DataView(new ArrayBuffer(0))), none);
      const whole = new Uint8Array(await (await jpeg(40, 30, true)).arrayBuffer());
      for (let cut = 1; cut < 280; cut += 7) tags(new DataView(whole.buffer, 0, cut));
      const wild = whole.slice(0, 300);
      wild.fill(0xff, 20, 60);
      equal(tags(new DataView(wild.buffer)).takenAt, "");
    },
  };
};
