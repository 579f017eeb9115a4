// Worker: decodes pictures of the camera with zxing-wasm, away from the page's thread. Asks nothing of any other place.
const VENDOR = "./vendor/zxing-wasm-3.1.4/";
importScripts(`${VENDOR}reader.js`, "./regions.js");

ZXingWASM.prepareZXingModule({ overrides: { locateFile: (path) => new URL(VENDOR + path, self.location.href).href } });

// Labels carry these; UPC-E and DataBar Limited are left out, since parts of other symbols pass for them.
const FORMATS = ["Code128", "DataMatrix", "QRCode", "ITF", "Code39", "EAN13", "UPCA", "PDF417"];
const OPTIONS = { formats: FORMATS, tryHarder: true, tryInvert: false, textMode: "Plain", returnErrors: true, maxNumberOfSymbols: 40 };

self.addEventListener("message", async ({ data: { picture, number, locate } }) => {
  const began = performance.now();
  let found = [];
  try {
    found = (await ZXingWASM.readBarcodes(picture, OPTIONS)).map(({ text, symbologyIdentifier, isValid, position }) => ({
      text: isValid ? symbologyIdentifier + text : "",
      format: symbologyIdentifier,
      corners: ["topLeft", "topRight", "bottomRight", "bottomLeft"].map((name) => [position[name].x, position[name].y]),
    }));
  } catch (fault) {
    self.postMessage({ number, fault: String(fault) });
    return;
  }
  self.postMessage({ number, found, bars: locate ? findBars(picture) : null, ms: performance.now() - began });
});
