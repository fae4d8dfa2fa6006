import type { ReactNode } from 'react';
import { Dialog as AriaDialog, Heading, Modal, ModalOverlay } from 'react-aria-components';

type Props = { title: string; isOpen: boolean; onClose: () => void; children: ReactNode };

/** A modal dialog: focus stays inside, Escape closes, the page behind is out of reach. */
export function Dialog({ title, isOpen, onClose, children }: Props) {
  return (
    <ModalOverlay
      className="overlay"
      isOpen={isOpen}
      onOpenChange={(open) => (open ? undefined : onClose())}
      isDismissable
    >
      <Modal className="modal">
        <AriaDialog className="dialog">
          <Heading slot="title">{title}</Heading>
          {children}
        </AriaDialog>
      </Modal>
    </ModalOverlay>
  );
}
