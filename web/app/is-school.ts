// Whether this page is a school's: the server says so in the page itself, before anything is asked.

export const isSchool = (): boolean => 'school' in document.documentElement.dataset;
