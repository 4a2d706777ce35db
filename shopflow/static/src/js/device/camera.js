// Reads one QR code (ISO/IEC 18004) from the camera: by the browser's own reader where it has one, else by a package's.
const EVERY = 120;
const WIDEST = 960;

export function stop(video) {
  video.srcObject?.getTracks().forEach((track) => track.stop());
  video.srcObject = null;
}

// Resolves with the text of the first code seen, or with nothing when the camera was stopped.
export async function read(video) {
  video.srcObject = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 1280 } } });
  try {
    await video.play();
    const find = await reader();
    while (video.srcObject) {
      const text = await find(video);
      if (text) return text;
      await new Promise((resolve) => setTimeout(resolve, EVERY));
    }
    return undefined;
  } finally {
    stop(video);
  }
}

async function reader() {
  const formats = await globalThis.BarcodeDetector?.getSupportedFormats().catch(() => []);
  if (!formats?.includes("qr_code")) return packaged();
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  return async (video) => (await detector.detect(video))[0]?.rawValue;
}

// Exported for pictures that are no video: anything that a canvas draws.
export async function packaged() {
  const { decodeQR } = await import("qr/decode.js");
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("2d", { willReadFrequently: true });
  return async (picture) => {
    const [width, height] = [picture.videoWidth ?? picture.width, picture.videoHeight ?? picture.height];
    const scale = Math.min(1, WIDEST / Math.max(width, height, 1));
    canvas.width = Math.round(width * scale);
    canvas.height = Math.round(height * scale);
    if (!canvas.width || !canvas.height) return undefined; // no frame yet
    context.drawImage(picture, 0, 0, canvas.width, canvas.height);
    try {
      return decodeQR(context.getImageData(0, 0, canvas.width, canvas.height), { timeLimit: 100 });
    } catch {
      return undefined; // no code in this frame: the package says so by an error
    }
  };
}
