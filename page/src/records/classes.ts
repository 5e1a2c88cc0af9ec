// "reel-19" -> "reel, 19 cm/s"
export function classInWords(name: string): string {
  return name.replace(/^reel-(.+)$/, 'reel, $1\u00a0cm/s');
}

// The classes of machines that the records know.
export const CLASSES = ['cassette', 'microcassette', 'reel-4.76', 'reel-9.5', 'reel-19', 'reel-38',
  'reel-76'].map((name) => [name, classInWords(name)] as const);
