// The reports that this device keeps until the server has counted them, in the order in which they were made.
// A report: {id, key, url, lot, op, words, fields: [[name, value]], madeAt, person, state: "waiting" | "refused", sentence}.
// It holds nothing that could log anybody in.
const NAME = "shopflow";
const STORE = "reports";
let opened = null;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

// Resolves when the transaction is on the disk, not when the request is answered: then the report cannot be lost.
async function act(mode, ask) {
  const transaction = (await open()).transaction(STORE, mode, { durability: "strict" });
  const request = ask(transaction.objectStore(STORE));
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve(request.result);
    transaction.onabort = () => reject(transaction.error);
  });
}

export const add = (report) => act("readwrite", (store) => store.add(report));
export const put = (report) => act("readwrite", (store) => store.put(report));
export const remove = (id) => act("readwrite", (store) => store.delete(id));
export const all = () => act("readonly", (store) => store.getAll());
