/**
 * The Electron that the program is built with, and until when that line is supported. Electron supports its
 * three newest major versions, with a new one about every eight weeks (Electron's release timeline, from
 * memory); the date is our own, cautious reading. A test fails when the locked version is another, or the date has passed.
 */
export const electronSupport = { major: 45, supportedUntil: '2027-04-30' } as const;
