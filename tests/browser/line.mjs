// A line to the service that can be cut, and that can lose answers: what a phone in a cellar has.
import { connect, createServer } from "node:net";

/** Passes all on to `service` (a URL) until it is told otherwise. */
export async function line(service) {
  const { hostname, port } = new URL(service);
  const sockets = new Set();
  let mode = "open";
  const server = createServer((phone) => {
    if (mode === "cut") return phone.destroy();
    const far = connect(Number(port), hostname);
    for (const socket of [phone, far]) {
      sockets.add(socket);
      socket.on("error", () => {});
      socket.on("close", () => {
        sockets.delete(socket);
        phone.destroy();
        far.destroy();
      });
    }
    phone.on("data", (bytes) => far.write(bytes));
    far.on("data", (bytes) => {
      // The service has done what it was asked for, and nobody hears that it has.
      if (mode === "deaf") phone.destroy();
      else phone.write(bytes);
    });
  });
  await new Promise((resolve) => server.listen(0, "127.0.0.1", resolve));
  const set = (to) => {
    mode = to;
    for (const socket of sockets) socket.destroy();
  };
  return {
    url: `http://127.0.0.1:${server.address().port}`,
    open: () => set("open"),
    cut: () => set("cut"),
    deaf: () => set("deaf"),
    end: () => {
      set("cut");
      server.close();
    },
  };
}
