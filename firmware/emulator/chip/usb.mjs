// The other end of the USB cable: finds the device, reads who it is, opens its serial port, carries bytes both ways. A
// packet of 64 bytes takes 52 us, which is what a full-speed bus has for bulk data (19 packets in a millisecond: USB 2.0,
// table 5-9). A port that is closed, or a host that does not read, leaves packets where they are.

const PACKET_NS = 52_000;
// IN buffer control registers in the controller's memory, and their bits `available` and `full`.
const BUFFER_CONTROL = 0x80;
const OFFERED = (1 << 10) | (1 << 15);
// Registers of the controller, and bits of its status: at rest, resumed, connected; of its multiplexer: to the pads, to its own
// transceiver (RP2040 data sheet, 4.1.4, from memory).
const SIE_STATUS = 0x50, USB_MUXING = 0x74;
const SUSPENDED = 1 << 4, RESUME = 1 << 11, BUS_RESET = 1 << 19, LINE_J = 1 << 2;
const TO_PAD = 1 << 2, TO_PHY = 1 << 0;
// How long after the bus reset a host lets the lines go. The chip of the emulator is of the first revision that is sold: it
// comes up behind a hub only when the J state is forced on it (erratum RP2040-E5).
const LINES_FREE_NS = 200_000;
const DEVICE = 1, CONFIGURATION = 2, STRING = 3, INTERFACE = 4, ENDPOINT = 5;

const SETTLING = { setup: [], data: [] };

export class UsbHost {
  /** `received(bytes)`: serial data. */
  constructor(usb, clock, received) {
    this.usb = usb;
    this.received = received;
    this.identity = {};
    this.configured = false;
    this.open = false;
    this.reading = true;
    this.suspended = false;
    this.queue = [];
    this.queued = 0;
    this.armed = {};
    this.held = null;
    this.transfers = [];
    this.current = null;
    this.zeroOutArmed = false;
    this.inEndpoint = -1;
    this.outEndpoint = -1;

    // The model says "taken" the moment a packet is offered. Here it stays offered until the host comes for it.
    const dpram = usb.rp2040.usbDPRAMView;
    const ready = usb.indicateBufferReady.bind(usb);
    const control = (endpoint) => BUFFER_CONTROL + 8 * endpoint;
    usb.indicateBufferReady = (endpoint, out) => {
      if (out) ready(endpoint, out);
      else dpram.setUint32(control(endpoint), dpram.getUint32(control(endpoint), true) | OFFERED, true);
    };
    this.taken = (endpoint) => {
      dpram.setUint32(control(endpoint), dpram.getUint32(control(endpoint), true) & ~OFFERED, true);
      ready(endpoint, false);
    };
    usb.writeDelayMicroseconds = PACKET_NS / 1000;
    usb.readDelayMicroseconds = PACKET_NS / 1000;
    usb.onUSBEnabled = () => usb.resetDevice();
    this.forcedJ = false;
    const release = clock.createAlarm(() => { usb.sieStatus = (usb.sieStatus & ~(3 << 2)) | LINE_J; });
    usb.resetAlarm = clock.createAlarm(() => {
      usb.sieStatus |= BUS_RESET;
      release.schedule(LINES_FREE_NS);
      usb.sieStatusUpdated();
    });
    const write = usb.writeUint32.bind(usb);
    usb.writeUint32 = (offset, value) => {
      if (offset === USB_MUXING && value & TO_PAD && !(value & TO_PHY)) this.forcedJ = true;
      // The model does not know that this bit is cleared by writing it.
      if (offset === SIE_STATUS) usb.sieStatus &= ~(usb.rawWriteValue & SUSPENDED);
      write(offset, value);
    };
    usb.onResetReceived = () => this.#enumerate();
    usb.onEndpointWrite = (endpoint, packet) => this.#in(endpoint, packet);
    usb.onEndpointRead = (endpoint, size) => this.#out(endpoint, size);
    this.settle = clock.createAlarm(() => {
      this.current = null;
      this.#next();
    });
  }

  /** Sends serial data. */
  send(bytes) {
    if (bytes.length === 0) return;
    this.queue.push(bytes);
    this.queued += bytes.length;
    this.#feed();
  }

  /** Opens or closes the port; an open port may be left unread. */
  setOpen(open, reading) {
    const changed = this.open !== open;
    this.open = open;
    this.reading = reading;
    if (!this.configured) return;
    if (changed) this.#lineState();
    this.#release();
    this.#feed();
  }

  /** Lets the bus rest, as a computer does that goes to sleep, or wakes it. */
  suspend(on) {
    this.suspended = on;
    this.usb.sieStatus |= on ? SUSPENDED : RESUME;
    this.usb.sieStatusUpdated();
    this.#release();
    this.#feed();
  }

  /** Comes for the packet that waits, if there is one and somebody who reads it. */
  #release() {
    if (!this.open || !this.reading || this.suspended || !this.held) return;
    const packet = this.held;
    this.held = null;
    this.#in(this.inEndpoint, packet);
  }

  #lineState() {
    // SET_CONTROL_LINE_STATE (CDC 1.2, PSTN 6.3.12): bit 0 is DTR, bit 1 RTS.
    this.#control([0x21, 0x22, this.open ? 3 : 0, 0, 0, 0, 0, 0]);
  }

  #enumerate() {
    this.configured = false;
    this.outEndpoint = -1;
    this.transfers = [];
    this.current = null;
    this.#control([0x00, 5, 1, 0, 0, 0, 0, 0]);
    this.#describe(DEVICE, 0, 18, (device) => {
      this.identity.vendor = device[8] | (device[9] << 8);
      this.identity.product = device[10] | (device[11] << 8);
      const names = { manufacturer: device[14], name: device[15], serial: device[16] };
      for (const [key, index] of Object.entries(names)) {
        if (index) this.#describe(STRING, index, 255, (text) => {
          this.identity[key] = Buffer.from(text.subarray(2)).toString('utf16le');
        });
      }
      this.#describe(CONFIGURATION, 0, 9, (head) => {
        this.#describe(CONFIGURATION, 0, head[2] | (head[3] << 8), (all) => {
          this.#endpoints(all);
          this.#control([0x00, 9, 1, 0, 0, 0, 0, 0], () => {
            this.configured = true;
            if (this.open) this.#lineState();
          });
        });
      });
    });
  }

  #describe(type, index, length, done) {
    this.#control([0x80, 6, index, type, type === STRING ? 9 : 0, type === STRING ? 4 : 0, length & 255, length >> 8], done);
  }

  #endpoints(descriptors) {
    let data = false;
    for (let at = 0; at + 1 < descriptors.length && descriptors[at] > 1; at += descriptors[at]) {
      const type = descriptors[at + 1];
      if (type === INTERFACE) data = descriptors[at + 5] === 10;
      if (type === ENDPOINT && data && (descriptors[at + 3] & 3) === 2) {
        const address = descriptors[at + 2];
        if (address & 0x80) this.inEndpoint = address & 15;
        else this.outEndpoint = address & 15;
      }
    }
  }

  #control(setup, done = () => {}) {
    this.transfers.push({ setup: Uint8Array.from(setup), data: [], done });
    if (!this.current) this.#next();
  }

  #next() {
    if (this.current || this.transfers.length === 0) return;
    this.current = this.transfers.shift();
    this.usb.sendSetupPacket(this.current.setup);
  }

  #finish() {
    const { done, data, setup } = this.current;
    // A host leaves a little time between transfers, in which the status packet gets there; after a new address it leaves
    // 2 ms (USB 2.0, 9.2.6.3).
    this.current = SETTLING;
    this.settle.schedule(setup[0] === 0 && setup[1] === 5 ? 2_000_000 : 200_000);
    done(Uint8Array.from(data));
  }

  #in(endpoint, packet) {
    if (endpoint === 0) {
      this.taken(0);
      const { current } = this;
      if (!current || current === SETTLING) return;
      current.data.push(...packet);
      const { setup, data } = current;
      const asked = setup[6] | (setup[7] << 8);
      const reading = setup[0] & 0x80;
      if (!reading) {
        this.#finish();
      } else if (packet.length < 64 || data.length >= asked) {
        current.complete = true;
        if (this.zeroOutArmed) this.#status();
      }
    } else if (endpoint === this.inEndpoint) {
      if (!this.open || !this.reading || this.suspended) {
        this.held = packet;
        return;
      }
      this.taken(endpoint);
      if (packet.length > 0) this.received(packet);
    }
  }

  #status() {
    this.zeroOutArmed = false;
    this.usb.endpointReadDone(0, new Uint8Array(0), 5);
    this.#finish();
  }

  #out(endpoint, size) {
    if (endpoint === 0) {
      this.zeroOutArmed = true;
      if (this.current?.complete) this.#status();
    } else {
      // The device waits for data from its reset on; which endpoint is the serial one's is found out later.
      this.armed[endpoint] = size;
      this.#feed();
    }
  }

  #feed() {
    const size = this.armed[this.outEndpoint] ?? 0;
    if (size === 0 || this.queued === 0 || !this.open || this.suspended) return;
    const packet = new Uint8Array(Math.min(size, this.queued));
    let have = 0;
    while (have < packet.length) {
      const head = this.queue[0];
      const piece = head.subarray(0, packet.length - have);
      packet.set(piece, have);
      have += piece.length;
      if (piece.length === head.length) this.queue.shift();
      else this.queue[0] = head.subarray(piece.length);
    }
    this.queued -= have;
    this.armed[this.outEndpoint] = 0;
    this.usb.endpointReadDone(this.outEndpoint, packet);
  }
}
