// Whether a name that a person typed, to say whom they mean, is that of somebody.

/** Spaces and case are no reason to refuse. */
const plain = (name: string): string => name.trim().replaceAll(/\s+/g, ' ').toLocaleLowerCase();

export const isNameOf = (typed: string, name: string): boolean => plain(typed) === plain(name);
