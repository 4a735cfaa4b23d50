// Small drawings of what a device shows while it is made to trust the hub: of nobody's browser, only what matters of it.

import type { ComponentChild } from 'preact';
import type { StepPicture as Picture } from '../i18n/en-appliance.ts';
import './step-picture.css';

/** Inside a screen of 60 by 84, its corner at 10, 16. */
const drawings: Readonly<Record<Picture, ComponentChild>> = {
  scan: (
    <>
      <path class="sp-thick" d="M22 34v-8h8M50 26h8v8M58 56v8h-8M30 64h-8v-8" />
      <path class="sp-fill" d="M30 34h8v8h-8zM42 34h8v8h-8zM30 46h8v8h-8zM44 48h6v6h-6z" />
      <path d="M20 80h40" />
    </>
  ),
  warning: (
    <>
      <path class="sp-thick" d="M40 26l16 28H24z" />
      <path class="sp-thick" d="M40 36v9M40 49v1" />
      <path d="M20 64h40M20 71h30" />
      <path class="sp-press" d="M20 80h40v12H20z" />
    </>
  ),
  certificate: (
    <>
      <path d="M18 24h44v58H18z" />
      <path d="M24 32h32M24 39h24" />
      <path class="sp-fill" d="M23 49h7v6h-7zM32 49h7v6h-7zM41 49h7v6h-7zM50 49h7v6h-7z" />
      <path d="M24 63h32" />
      <circle class="sp-thick" cx="50" cy="73" r="5" />
      <path class="sp-thick" d="M46 77l-2 10 6-3 6 3-2-10" />
    </>
  ),
  goOn: (
    <>
      <path d="M20 28h40M20 35h40M20 42h26" />
      <path class="sp-press" d="M18 56h44v14H18z" />
      <path class="sp-thick" d="M30 63h18M43 58l5 5-5 5" />
      <path d="M20 82h40" />
    </>
  ),
  join: (
    <>
      <path d="M18 26h44v12H18zM18 44h44v12H18z" />
      <path class="sp-thick" d="M23 32h20M23 50h14" />
      <path class="sp-press" d="M18 66h44v14H18z" />
      <path class="sp-thick" d="M33 73l5 5 10-10" />
    </>
  ),
  file: (
    <>
      <path d="M26 26h18l10 10v28H26z" />
      <path d="M44 26v10h10" />
      <path class="sp-thick" d="M40 44v12M35 51l5 6 5-6" />
      <path class="sp-press" d="M18 74h44v12H18z" />
    </>
  ),
  settings: (
    <>
      <path d="M18 28h44v12H18zM18 46h44v12H18zM18 64h44v12H18z" />
      <path class="sp-thick" d="M24 34h16M24 52h22M24 70h12" />
      <path class="sp-press" d="M18 46h44v12H18z" />
      <path class="sp-thick" d="M54 49l3 3-3 3" />
    </>
  ),
  trust: (
    <>
      <path d="M20 30h24M20 37h18" />
      <path class="sp-press" d="M30 50h20a8 8 0 0 1 0 16H30a8 8 0 0 1 0-16z" />
      <circle class="sp-fill" cx="50" cy="58" r="5" />
      <path d="M20 78h40" />
    </>
  ),
};

/** Said in words beside it, so it is nothing to a screen reader. */
export function StepPicture({ picture }: { readonly picture: Picture }) {
  return (
    <svg class="step-picture" viewBox="0 0 80 112" width="80" height="112" aria-hidden="true">
      <rect class="sp-body" x="6" y="4" width="68" height="104" rx="9" />
      <path d="M34 10h12" />
      {drawings[picture]}
    </svg>
  );
}
