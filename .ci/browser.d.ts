// What the server writes in front of the service worker.
declare const SHELL: { version: string; start: string; files: string[] };
