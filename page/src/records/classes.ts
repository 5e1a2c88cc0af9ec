// The classes of machines that the records know.
export const CLASSES: [string, string][] = [['cassette', 'cassette'],
  ['reel-4.76', 'reel, 4.76 cm/s'], ['reel-9.5', 'reel, 9.5 cm/s'], ['reel-19', 'reel, 19 cm/s'],
  ['reel-38', 'reel, 38 cm/s'], ['reel-76', 'reel, 76 cm/s']];

// "reel-19" -> "reel, 19 cm/s"
export function classInWords(name: string): string {
  return name.replace(/^reel-(.+)$/, 'reel, $1\u00a0cm/s');
}
