/** A chip for a part of the question that is no text: a shape drawn, a sound dropped. They stand after the pieces. */
export interface OtherChip {
  kind: string;
  label: string;
  detail: string;
  edit: () => void;
  remove: () => void;
}
